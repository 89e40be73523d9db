"""Pictures renamed by a pattern: only on request, the old names recorded, and declarations hold as before."""

import csv

import pytest

from audit.archive.opened import open_bag
from audit.archive.pattern import check_pattern
from audit.cli.entry import run
from audit.errors import AuditError
from audit.jobs.archive import archive
from audit.jobs.archive_update import update
from audit.jobs.audit import audit
from audit.jobs.verify import verify

PATTERN = "{date}-{time}-{camera}-{counter}"


def rows(bag, name):
    with (bag / "data/knowledge" / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def renamed(dump, tmp_path):
    bag = tmp_path / "bag"
    words = ["archive", str(dump), str(bag), "--rename", PATTERN, "--pixels", "off"]
    assert run(words) == 0
    return bag


def test_pictures_are_renamed_and_the_old_names_recorded(dump, renamed):
    day = renamed / "data/pictures/card/day"
    pictures = sorted(path.name for path in day.iterdir() if path.suffix == ".JPG")
    assert len(pictures) == 6
    assert all(name.startswith("2025-09-13-") for name in pictures)
    assert {path.name for path in day.iterdir()} >= {"filters.toml"}  # only pictures are renamed
    old = {
        row["path"]: bytes.fromhex(row["old_name_hex"]).decode("utf-8", "replace")
        for row in rows(renamed, "files.csv")
    }
    for name in pictures:
        was = old[f"data/pictures/card/day/{name}"].removeprefix("card/")
        assert (day / name).read_bytes() == (dump / was).read_bytes()
        assert name.endswith(f"-{was[-8:-4]}.JPG")  # the counter stays
    assert verify(renamed).found.problems == []
    assert run(["verify", str(renamed), "--card", str(dump)]) == 0


def test_declarations_hold_as_before(dump, renamed):
    expected = audit(dump, pixels="off").frames
    frames = {row["frame"].removeprefix("card/"): row for row in rows(renamed, "frames.csv")}
    for frame, declaration, rig in zip(
        expected["frame"], expected["declaration"], expected["rig_words"], strict=True
    ):
        assert (frames[frame]["declaration"], frames[frame]["rig_words"]) == (declaration, rig or "")


def test_a_renamed_bag_is_a_dump_too(renamed):
    opened = open_bag(renamed)
    again = audit(opened.dump, kit_path=opened.kit, declarations=opened.declarations, pixels="preview").frames
    assert again["frame"].tolist() == [row["frame"] for row in rows(renamed, "frames.csv")]
    assert again["declaration"].tolist() == [row["declaration"] for row in rows(renamed, "frames.csv")]
    for files in again["files"]:
        for name in files:
            assert (opened.dump / name).is_file()
    assert not update(renamed, pixels="off").changed


def test_what_is_called_like_a_picture_goes_with_it_and_no_name_is_taken_twice(skarven, tmp_path):
    day = next((skarven / "trip").glob("2025-09-13*"))
    card = tmp_path / "card"
    card.mkdir()
    data = sorted(day.glob("*.JPG"))[0].read_bytes()
    for name in ("BECK0001.JPG", "BECK0001.xmp", "BECK0001.JPG.xmp", "BECK0002.JPG", "BECK.txt"):
        (card / name).write_bytes(data if name.endswith("JPG") else name.encode())
    (card / "torn.JPG").write_bytes(b"\xff\xd8torn")
    archive(card, tmp_path / "bag", rename="{date}", pixels="off")
    names = {path.name for path in (tmp_path / "bag/data/pictures/card").iterdir()}
    assert names == {
        *("2025-09-13.JPG", "2025-09-13.xmp", "2025-09-13.JPG.xmp", "2025-09-13-2.JPG"),
        *("BECK.txt", "torn.JPG"),
    }


@pytest.mark.parametrize(
    "pattern",
    ["{date.year}", "{0}", "plain", "../{date}", "{date}/{time}", "{__class__}", "{date", "%d{date}"],
)
def test_other_patterns_are_refused(pattern):
    with pytest.raises(AuditError, match="a pattern is made of"):
        check_pattern(pattern)
