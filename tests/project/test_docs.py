"""The generated pages are those of the code, and what the README shows is true."""

import importlib.util
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from audit.declare import load
from audit.declare.worn import Worn
from audit.kit.kit import Body, Filter, Holder, Hood, Lens, Ring, ScrewIn, StepRing
from audit.kit.named_rig import NamedRig

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language):
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.M | re.S)


def generator():
    sys.path.insert(0, str(ROOT / "docs"))
    spec = importlib.util.spec_from_file_location("generate", ROOT / "docs" / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    sys.path.remove(str(ROOT / "docs"))
    return module


@pytest.mark.parametrize("name", generator().PAGES)
def test_page_is_as_generated(name):
    assert (ROOT / "docs" / name).read_text(encoding="utf-8") == generator().PAGES[name](), "run `make docs`"


@pytest.mark.parametrize("part", [Body, Lens, Ring, StepRing, ScrewIn, Holder, Filter, Hood, NamedRig, Worn])
def test_every_key_of_kit_and_declaration_is_in_the_docs(part):
    page = (ROOT / "docs" / "kit.md").read_text(encoding="utf-8")
    for name, field in part.model_fields.items():
        assert re.search(rf"\b{field.alias or name}\b", page), f"{part.__name__}.{name} is not in docs/kit.md"


def test_the_examples_of_the_readme_are_understood(tmp_path):
    kit, declaration = blocks("toml")
    (tmp_path / "kit.toml").write_text(kit, encoding="utf-8")
    (tmp_path / "filters.toml").write_text(declaration, encoding="utf-8")
    assert len(load(tmp_path).kit.filters) == len(tomllib.loads(kit)["filter"])
    assert len(load(tmp_path).declarations[0].worn) == 2


def test_links_of_the_readme_lead_somewhere():
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).exists(), target


def test_the_commands_of_the_readme_run(demo_run, tmp_path):
    """Each in turn, in one folder; `make test` is this run itself, pip's is the wheel test's, and the demo's
    was run for all tests that need it."""
    shutil.copytree(demo_run / "skarven", tmp_path / "skarven", symlinks=True)
    bin_folder = Path(sys.executable).parent
    ran = []
    for line in "".join(blocks("console")).splitlines():
        words = shlex.split(line.removeprefix("$ "))
        if words[:3] == ["python3", "-m", "pip"] or words == ["make", "test"]:
            continue
        if words == ["cornerstop", "demo", "--out", "skarven"]:
            ran.append(words[0])
            continue
        if words[0] == "make":
            done = subprocess.run([*words, "--dry-run"], cwd=ROOT, capture_output=True, text=True)
            assert done.returncode == 0, done.stderr
            assert "cornerstop demo" in done.stdout
        else:
            done = subprocess.run([str(bin_folder / words[0]), *words[1:]], cwd=tmp_path, capture_output=True)
            assert done.returncode in (0, 1), done.stderr.decode()
        ran.append(words[0])
    assert ran.count("cornerstop") >= 5
    assert (tmp_path / "skarven-report" / "report.html").is_file()


def test_the_test_command_is_what_ci_runs():
    assert "make test" in (ROOT / ".ci" / "run").read_text()
    assert shutil.which("make")
