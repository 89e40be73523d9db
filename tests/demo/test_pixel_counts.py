"""Pictures as the command writes them: with the pixels of a camera, in EXIF, in the file and decoded."""

from __future__ import annotations

import io
from itertools import islice

import exifread
import pytest
from PIL import Image

from audit.demo import trip
from audit.demo.plan import TRIP
from audit.demo.schedule import frames
from audit.demo.trip import stored_px, trip_files

ALL = frames(TRIP)


@pytest.mark.parametrize(("scene", "size"), [(11, (6000, 4000)), (12, (4260, 2840)), (63, (3000, 2000))])
def test_the_count_is_that_of_the_body_everywhere(scene, size, monkeypatch):
    part = tuple(s for s in TRIP if s.seed == scene)
    monkeypatch.setattr(trip, "TRIP", part)
    monkeypatch.setattr(trip, "_copied", lambda made: made[0])
    name, data = next(f for f in trip_files() if f[0].endswith(".JPG"))
    tags = exifread.process_file(io.BytesIO(data), details=False)
    told = tuple(tags[f"EXIF ExifImage{side}"].values[0] for side in ("Width", "Length"))
    with Image.open(io.BytesIO(data)) as picture:
        picture.load()
        assert told == picture.size == size, name
        assert not picture.info.get("progressive")
    assert len(data) < 700_000


def test_small_pictures_have_the_same_previews():
    for large, small in islice(zip(trip_files(), trip_files(small=True), strict=True), 3):
        assert large[0] == small[0]
        assert large[1][large[1].rindex(b"\xff\xd8") :] == small[1][small[1].rindex(b"\xff\xd8") :]


def test_one_size_for_all_frames_of_a_scene():
    for small in (True, False):
        for scene in TRIP:
            assert len({stored_px(f, small=small) for f in ALL if f.scene == scene}) == 1
