"""What others wrote into a sidecar is shown with its source; ours is not read back as theirs."""

from datetime import datetime

import pandas as pd
import pytest
from samples import DC, EXIF, SHOP, XMP, languages, meta, node

from audit.scan.folder import walk
from audit.xmp.known import Known
from audit.xmp.merge import merge
from audit.xmp.names import DATE_CREATED
from audit.xmp.told import Told, add_told, told

CREATED = "   <photoshop:DateCreated>{}</photoshop:DateCreated>"


def of(inner):
    return told(meta(node(f"{DC} {EXIF} {SHOP} {XMP}", inner)).encode())


@pytest.mark.parametrize(
    ("written", "time"),
    [
        ("2026-05-02T10:00:00.25+02:00", datetime(2026, 5, 2, 10, 0, 0, 250_000)),
        ("2026-05-02T10:00Z", datetime(2026, 5, 2, 10)),
        ("2026-05-02", None),
        ("2026", None),
        ("yesterday", None),
        ("", None),
    ],
)
def test_time(written, time):
    assert of(CREATED.format(written)).time == time


def test_the_other_property_of_time():
    original = "   <exif:DateTimeOriginal>2026-05-02T09:00:00</exif:DateTimeOriginal>"
    assert of(original).time == datetime(2026, 5, 2, 9)
    assert of(original + CREATED.format("2026-05-02T10:00:00")).time == datetime(2026, 5, 2, 10)


def test_title_and_rights():
    title = languages("title", ("de", "Abend"), ("x-default", " Evening "))
    rights = languages("rights", ("en", "(c) a colleague"))
    assert of(f"{title}\n{rights}") == Told(None, "Evening", "(c) a colleague")
    assert of("   <dc:title>plain</dc:title>").title == "plain"


def test_a_time_of_ours_is_not_theirs():
    time = "2026-05-02T10:00:00"
    known = Known({"Schema": "1"}, simple={DATE_CREATED: time})
    made = merge(None, known).after
    assert told(made) == Told()
    theirs = made.replace(f">{time}<".encode(), b">2026-05-02T11:00:00<")
    assert told(theirs).time == datetime(2026, 5, 2, 11)


def test_columns(table, tmp_path):
    for name in ("a.JPG", "b.JPG", "c.JPG"):
        (tmp_path / name).write_bytes(b"x")
    title = node(DC, languages("title", ("x-default", "Evening")))
    time = node(SHOP, CREATED.format("2026-05-02T10:00:00"))
    (tmp_path / "a.xmp").write_text(meta(title))
    (tmp_path / "a.JPG.xmp").write_text(meta(time + "\n" + title.replace("Evening", "Night")))
    (tmp_path / "b.xmp").write_text(meta(node(XMP, "   <xmp:Rating>4</xmp:Rating>")))
    (tmp_path / "c.xmp").write_text("no XMP")
    frames = add_told(table([{"files": [f"{name}.JPG"]} for name in "abc"]), walk(tmp_path))
    assert frames["sidecar"].tolist() == [["a.xmp", "a.JPG.xmp"], [], []]
    assert frames["sidecar_title"].tolist()[0] == "Evening"
    assert frames["sidecar_time"].tolist()[0] == pd.Timestamp("2026-05-02 10:00")
    assert frames[["sidecar_time", "sidecar_title", "sidecar_rights"]].isna().sum().tolist() == [2, 2, 3]
