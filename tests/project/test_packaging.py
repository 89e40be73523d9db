"""The wheel: what it holds, that it runs away from the checkout, and what it depends on."""

import re
import subprocess
import sys
import tomllib
import zipfile
from importlib import metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BUNDLES_GPL = {"pillow-heif", "exiv2", "pyexiv2", "py3exiv2", "pymupdf", "pyqt5", "pyqt6", "ghostscript"}
"""Wheels that are GPL or carry GPL code whatever their metadata says."""


@pytest.fixture(scope="session")
def wheel(tmp_path_factory):
    out = tmp_path_factory.mktemp("dist")
    build = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out), str(ROOT)]
    subprocess.run(build, check=True, capture_output=True)  # the sdist, and the wheel from the sdist
    return next(out.glob("*.whl"))


def test_the_wheel_holds_package_and_templates_and_nothing_else(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    templates = {f"audit/{p.relative_to(ROOT)}" for p in (ROOT / "templates").rglob("*") if p.is_file()}
    assert templates <= names
    assert {n.split("/")[0] for n in names} == {
        "audit",
        next(n for n in names if "dist-info" in n).split("/")[0],
    }
    assert not [n for n in names if n.endswith((".bak", ".orig", ".pyc", "~"))]


def test_the_installed_wheel_renders_the_same_report(wheel, demo_run, tmp_path):
    """In an environment of its own, with this one's dependencies but without the checkout."""
    home = tmp_path / "venv"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(home)], check=True)
    python = home / "bin" / "python"
    install = [sys.executable, "-m", "pip", "--python", str(python), "install", "-q", "--no-deps", str(wheel)]
    subprocess.run(install, check=True, capture_output=True)
    site = next((home / "lib").glob("python*/site-packages"))
    here = Path(metadata.distribution("pandas").locate_file(""))
    (site / "dependencies.pth").write_text(f"{here}\n")
    say = [str(python), "-c", "import audit; print(audit.__file__)"]
    where = subprocess.run(say, check=True, capture_output=True, text=True, cwd=tmp_path).stdout
    assert str(home) in where
    trip = str(demo_run / "skarven" / "trip")
    command = [str(home / "bin" / "cornerstop"), "audit", trip, "--out", "again", "-q"]
    assert subprocess.run(command, cwd=tmp_path).returncode in (0, 1)
    for name in ("index.html", "frames.parquet", "frames.csv", "findings.json", "orders.csv"):
        mine, theirs = demo_run / "skarven/report/newest" / name, tmp_path / "again/newest" / name
        assert mine.read_bytes() == theirs.read_bytes(), name


def hard_dependencies():
    todo = [
        re.match(r"[\w.-]+", r)[0]
        for r in tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]
    ]
    seen = set()
    while todo:
        name = todo.pop().lower().replace("_", "-")
        if name in seen:
            continue
        try:
            distribution = metadata.distribution(name)
        except metadata.PackageNotFoundError:
            continue  # of another platform
        seen.add(name)
        todo += [re.match(r"[\w.-]+", r)[0] for r in distribution.requires or [] if "extra ==" not in r]
    return sorted(seen)


@pytest.mark.parametrize("name", hard_dependencies())
def test_hard_dependencies_are_permissive_or_lgpl(name):
    assert name not in BUNDLES_GPL
    told = metadata.metadata(name)
    licences = [told.get("License-Expression", ""), *told.get_all("Classifier", [])]
    text = " ".join(x for x in licences if x and ("License" in x or x == licences[0]))
    if not text.strip():
        text = (told.get("License") or "")[:200]
    assert text.strip(), f"{name} names no licence"
    assert not re.search(
        r"(?<!L)(?<!Lesser )GPL|Affero|(?<!Lesser )General Public", text.replace("LGPL", "L")
    ), text


def test_the_lock_has_hashes_and_no_host_or_path():
    text = (ROOT / ".lock" / "dev.txt").read_text()
    assert text.count("--hash=sha256:") > 100
    assert not re.search(r"https?://|file:|index-url|find-links|^/|/home/|/work/", text, re.M)


def test_the_top_level_holds_what_it_should():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if tracked.returncode:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in tracked.stdout.splitlines()}
    named = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "Makefile"}
    rooms = {"audit", "templates", "tests", "fixtures", "docs", "benchmarks"}
    assert {t for t in top if not t.startswith(".")} <= named | rooms
