"""A shelf at an address comes to what the same folders come to here; nothing gets out of its folder."""

from __future__ import annotations

import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audit.cli.entry import run
from audit.disk.report_folder import real
from audit.errors import AuditError
from audit.jobs.shelf import audit_shelf
from audit.scale.audits import Audits
from audit.scale.cluster import Cluster
from audit.scale.shelf import shelf_of
from audit.scale.store import fetched

fsspec = pytest.importorskip("fsspec", reason="needs cornerstop[scale]")
OPTIONS = ("--pixels", "off", "--lang", "en")
FOLDERS = ("2025-09-13 Ravnsund", "card-2")


@pytest.fixture(scope="module")
def files(skarven: Path) -> dict[str, bytes]:
    """Two days of the demo trip and its kit, by their paths below the shelf."""
    top = skarven / "trip"
    paths = [top / "kit.toml", *(p for name in FOLDERS for p in (top / name).rglob("*") if p.is_file())]
    return {path.relative_to(top).as_posix(): path.read_bytes() for path in paths}


@pytest.fixture(scope="module")
def here(files: dict[str, bytes], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Audits]:
    """The same as folders, audited."""
    top = tmp_path_factory.mktemp("here")
    for name, data in files.items():
        (top / "shelf" / name).parent.mkdir(parents=True, exist_ok=True)
        (top / "shelf" / name).write_bytes(data)
    return top, audit_shelf(str(top / "shelf"), top / "out", options=[*OPTIONS, "--no-cache"])


@pytest.fixture(scope="module")
def bucket(files: dict[str, bytes]) -> Iterator[str]:
    """The address of a shelf on a mock of S3 that listens to this machine alone."""
    pytest.importorskip("s3fs", reason="needs cornerstop[scale]")
    pytest.importorskip("moto", reason="a mock of S3 for tests")
    with socket.socket() as free, pytest.MonkeyPatch.context() as patch:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
        free.close()
        server = subprocess.Popen(
            [sys.executable, "-m", "moto.server", "-H", "127.0.0.1", "-p", port],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
            patch.setenv(name, "invented")
        patch.setenv("AWS_ENDPOINT_URL", f"http://127.0.0.1:{port}")
        patch.setenv("AWS_DEFAULT_REGION", "us-east-1")
        try:
            store = _answering(int(port))
            store.mkdir("tarn")
            fill(store, "tarn/shelf", files)
            yield "s3://tarn/shelf"
        finally:
            server.kill()
            server.wait()


def _answering(port: int) -> Any:
    for _ in range(300):
        with socket.socket() as one:
            if one.connect_ex(("127.0.0.1", port)) == 0:
                return fsspec.filesystem("s3", skip_instance_cache=True)
        time.sleep(0.1)
    raise AssertionError("the mock does not listen")


def fill(store: Any, top: str, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        store.pipe_file(f"{top}/{name}", data)


def same(found: Audits, out: Path, here: tuple[Path, Audits]) -> None:
    top, expected = here
    assert [one.folders for one in found.trips] == [one.folders for one in expected.trips]
    for one, other in zip(found.trips, expected.trips, strict=True):
        assert (one.code, one.counts, one.begins) == (other.code, other.counts, other.begins)
        for name in ("frames.csv", "findings.json"):
            assert (out / one.run / name).read_bytes() == (top / "out" / other.run / name).read_bytes()


def test_of_a_shelf_in_memory(files, here, tmp_path):
    fill(fsspec.filesystem("memory"), "/shelf", files)
    same(audit_shelf("memory://shelf", tmp_path, options=OPTIONS), tmp_path, here)


def test_of_a_shelf_of_files(here, tmp_path):
    address = f"file://{(here[0] / 'shelf').as_posix()}"
    same(audit_shelf(address, tmp_path, options=OPTIONS), tmp_path, here)


def test_of_a_shelf_in_an_object_store_by_workers_of_a_cluster(bucket, here, tmp_path):
    with Cluster(workers=2):
        same(audit_shelf(bucket, tmp_path, options=OPTIONS), tmp_path, here)


def test_the_command_takes_an_address_and_leaves_nothing_behind(bucket, here, tmp_path, monkeypatch, capsys):
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(place))
    code = run(["shelf", bucket, "--out", str(tmp_path / "out"), "--pixels", "off"])
    assert code == here[1].code
    assert "2 trips." in capsys.readouterr().out
    assert not list(place.iterdir())
    assert run(["shelf", "s3://nowhere/at/all", "--out", str(tmp_path / "none")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert run(["shelf", "nosuch://a", "--out", str(tmp_path / "none")]) == 2
    assert "nosuch" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["../out.JPG", "a/../../out.JPG", "a\\b.JPG", "C:x.JPG", "./x.JPG"])
def test_no_name_leads_out_of_its_folder(name, tmp_path, monkeypatch):
    class Store:
        def find(self, top: str, detail: bool) -> dict[str, dict[str, str]]:
            return {f"{top}/{one}": {"name": f"{top}/{one}", "type": "file"} for one in (name, "good.JPG")}

        def get_file(self, name: str, target: str) -> None:
            Path(target).write_bytes(name.encode())

        def exists(self, name: str) -> bool:
            return False

    monkeypatch.setattr("audit.scale.store._store", lambda address: (Store(), "bucket/trip"))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with fetched(["s3://bucket/trip"]) as ([place], left):
        assert len(left) == 1 and left[0].endswith(name.rpartition("/")[2].replace("\\", "\\"))
        written = [real(path) for path in tmp_path.rglob("*") if path.is_file()]
        assert written == [real(Path(place) / "good.JPG")]


def test_a_folder_that_cannot_be_fetched_stops_no_other(files, tmp_path):
    store = fsspec.filesystem("memory")
    fill(store, "/shaky", files)
    place = next(name for name in files if name.startswith("card-2/") and name.endswith("JPG"))
    kept = type(store).get_file

    def get(self: Any, name: str, target: str, **more: Any) -> None:
        if name.endswith(place):
            raise OSError("the line is down")
        kept(self, name, target, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(type(store), "get_file", get)
        found = audit_shelf("memory://shaky", tmp_path, options=OPTIONS)
    assert [(one.name, one.code, bool(one.run)) for one in found.trips] == [
        ("2025-09-13 Ravnsund", 1, True),
        ("card-2", 2, False),
    ]
    assert "the line is down" in found.trips[1].said


def test_what_cannot_be_listed_is_refused():
    with pytest.raises(AuditError, match="cannot be"):
        shelf_of("memory://not/there")


def test_without_the_packages_it_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "fsspec.core", None)
    with pytest.raises(AuditError, match="cornerstop\\[scale\\]"):
        shelf_of("s3://tarn/shelf")
