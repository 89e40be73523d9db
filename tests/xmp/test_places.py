"""Which file is the sidecar of a frame."""

from pathlib import Path

import pytest

from audit.scan.folder import walk
from audit.xmp.places import places


@pytest.fixture
def found(tmp_path):
    """Makes files, and gives the sidecars of frames (each a list of its files): name, whether it is there."""

    def look(names, frames):
        for name in names:
            path = tmp_path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(b"x")
        rows = [{"files": files} for files in frames]
        made = list(places(rows, walk(tmp_path)))
        assert all(place.path == tmp_path / place.shown for place in made)
        return [(place.row, place.shown, place.there) for place in made]

    return look


@pytest.mark.parametrize(
    ("names", "frames", "expected"),
    [
        (["d/a.JPG"], [["d/a.JPG"]], [(0, "d/a.xmp", False)]),
        (["a.JPG"], [["a.JPG"]], [(0, "a.xmp", False)]),
        (["a.b.JPG"], [["a.b.JPG"]], [(0, "a.b.xmp", False)]),
        (["a.JPG", "A.XMP"], [["a.JPG"]], [(0, "A.XMP", True)]),
        (["a.JPG", "a.JPG.xmp"], [["a.JPG"]], [(0, "a.JPG.xmp", True)]),
        (["a.JPG", "a.JPG.xmp", "a.xmp"], [["a.JPG"]], [(0, "a.xmp", True), (0, "a.JPG.xmp", True)]),
        # raw and JPEG of one shot are one frame: one sidecar, or those that each has
        (["a.JPG", "a.CR2"], [["a.JPG", "a.CR2"]], [(0, "a.xmp", False)]),
        (["a.JPG", "a.CR2", "a.CR2.xmp"], [["a.JPG", "a.CR2"]], [(0, "a.CR2.xmp", True)]),
        # two frames of one name never share
        (
            ["a.JPG", "a.PNG", "a.xmp"],
            [["a.JPG"], ["a.PNG"]],
            [(0, "a.JPG.xmp", False), (1, "a.PNG.xmp", False)],
        ),
        (
            ["a.JPG", "a.JPG.TIF"],
            [["a.JPG"], ["a.JPG.TIF"]],
            [(0, "a.xmp", False), (1, "a.JPG.TIF.xmp", False)],
        ),
        (["x/a.JPG", "y/a.JPG"], [["x/a.JPG"], ["y/a.JPG"]], [(0, "x/a.xmp", False), (1, "y/a.xmp", False)]),
        # a mirrored card: what lies beside either file, a new one beside the first
        (["x/a.JPG", "y/a.JPG", "y/a.xmp"], [["x/a.JPG", "y/a.JPG"]], [(0, "y/a.xmp", True)]),
        (["x/a.JPG", "y/a.JPG"], [["x/a.JPG", "y/a.JPG"]], [(0, "x/a.xmp", False)]),
        # hidden and shadow files are nobody's sidecars
        (["a.JPG", "._a.xmp"], [["a.JPG"]], [(0, "a.xmp", False)]),
        # a bag is never changed
        (
            ["b/bagit.txt", "b/data/a.JPG", "c/a.JPG"],
            [["b/data/a.JPG"], ["c/a.JPG"]],
            [(1, "c/a.xmp", False)],
        ),
        (["bagit.txt", "a.JPG"], [["a.JPG"]], []),
        # a picture that went away meanwhile
        (["a.JPG"], [["b.JPG"]], []),
    ],
)
def test_places(found, names, frames, expected):
    assert found(names, frames) == expected


def test_a_link_is_no_sidecar(found, tmp_path):
    (tmp_path / "real").write_bytes(b"x")
    (tmp_path / "a.xmp").symlink_to("real")
    assert found(["a.JPG"], [["a.JPG"]]) == [(0, "a.xmp", False)]


def test_the_files_are_below_the_dump(tmp_path):
    (tmp_path / "a.JPG").write_bytes(b"x")
    made = list(places([{"files": ["a.JPG"]}], walk(Path(tmp_path))))
    assert [place.path.parent for place in made] == [tmp_path]
