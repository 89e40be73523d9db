from __future__ import annotations

import io
import os
import struct
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageOps

from audit.demo.header import with_preview
from audit.demo.scene import paint
from audit.optics.response import light_stops
from audit.pixels import readers, sources
from audit.pixels.decode import grey_codes
from audit.pixels.files import look_at
from audit.pixels.readers import without_bars
from audit.pixels.sources import IN_MEMORY, NO_PREVIEW, NOTHING, OFF, Sketches
from audit.scan import scan

SHARED = Path(__file__).parents[2].parent / "shared"


def shared(name: str) -> Path:
    if not (SHARED / name).is_dir():
        pytest.skip(f"real test files are not here: {SHARED / name}")
    return SHARED / name


@pytest.fixture(scope="module")
def scene() -> Image.Image:
    """A painted landscape, 1200 x 800."""
    light = paint("skerries", 3, 1200, 800, 9.0, 0.5) * 0.2
    return Image.fromarray(np.clip(255 * light ** (1 / 2.2), 0, 255).astype(np.uint8))


def jpeg(picture: Image.Image, **options: Any) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", **{"quality": 95, "exif": Image.Exif(), **options})
    return out.getvalue()


def with_exif(picture: Image.Image, orientation: int = 1, **options: Any) -> bytes:
    exif = Image.Exif()
    exif[0x0110], exif[0x0112] = "Brattholm Tarn", orientation
    data = jpeg(picture, exif=exif, **options)
    skipped = 4 + int.from_bytes(data[4:6], "big")
    return data[:2] + data[skipped:] if data[2:4] == b"\xff\xe0" else data


def rows(dump: Path) -> list[dict[str, Any]]:
    return [{str(k): v for k, v in row.items()} for row in scan(dump).frames.to_dict("records")]


def one(dump: Path, data: bytes, name: str = "a.jpg") -> dict[str, Any]:
    (dump / name).write_bytes(data)
    (row,) = rows(dump)
    return row


def test_the_preview_is_taken_before_the_picture(tmp_path, scene):
    small = ImageOps.mirror(scene).resize((640, 427), Image.Resampling.BOX)
    row = one(tmp_path, with_preview(with_exif(scene), jpeg(small)))
    for mode in ("preview", "full"):
        sketch = Sketches(tmp_path, mode).of(row)
        assert (sketch.source, sketch.width_px, sketch.height_px) == ("embedded preview", 640, 427)
        assert not sketch.exact
        assert sketch.grey.shape == (213, 320) and sketch.colour.shape == (53, 80, 3)
        mirrored = np.asarray(ImageOps.mirror(scene).convert("L").resize((320, 213), Image.Resampling.BOX))
        assert abs(sketch.grey.astype(float) - mirrored).mean() < 2


def test_grey_and_colour_are_box_means_of_the_decoded_picture(tmp_path, scene):
    whole = scene.crop((0, 0, 960, 640))
    row = one(tmp_path, with_exif(whole))
    sketch = Sketches(tmp_path, "full").of(row)
    decoded = Image.open(tmp_path / "a.jpg")
    grey = np.asarray(decoded.convert("L"), dtype=float)[: 213 * 3].reshape(213, 3, 320, 3).mean((1, 3))
    assert (sketch.source, sketch.exact, sketch.grey.shape) == ("full decode", True, (213, 320))
    assert abs(sketch.grey[:50] - grey[:50]).mean() < 1  # 640 rows are 213 1/3 cells, so they drift apart
    colour = np.asarray(decoded, dtype=float)[: 53 * 12].reshape(53, 12, 80, 12, 3).mean((1, 3))
    assert abs(sketch.colour[:20] - colour[:20]).max() < 3


def test_shares_of_clipped_and_black_by_ninths(tmp_path):
    picture = Image.new("RGB", (960, 960), (100, 120, 140))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, 319, 159), (255, 255, 255))  # half of the first ninth
    draw.rectangle((640, 0, 959, 319), (255, 30, 30))  # one channel is enough
    draw.rectangle((0, 640, 319, 959), (0, 0, 0))
    draw.rectangle((640, 640, 959, 959), (0, 0, 60))  # not black: one channel has light
    picture.save(tmp_path / "a.tif")
    row = {"frame": "a", "files": ["a.tif"], "width_px": 960, "height_px": 960, "orientation": 1}
    sketch = Sketches(tmp_path, "full").of(row)
    assert sketch.clipped.tolist() == [[0.5, 0, 1], [0, 0, 0], [0, 0, 0]]
    assert sketch.black.tolist() == [[0, 0, 0], [0, 0, 0], [1, 0, 0]]
    assert sketch.exact


def test_large_jpegs_are_decoded_reduced(tmp_path, scene):
    large = scene.resize((4200, 2800), Image.Resampling.BILINEAR)
    row = one(tmp_path, with_exif(large))
    sketch = Sketches(tmp_path, "full").of(row)
    assert (sketch.source, sketch.exact) == ("reduced decode", False)
    assert sketch.width_px == 1050  # the smallest eighths that leave 640 px
    whole = np.asarray(large.convert("L").resize((320, 213), Image.Resampling.BOX), dtype=float)
    assert abs(sketch.grey - whole).mean() < 1


def test_a_picture_is_not_turned(tmp_path, scene):
    row = one(tmp_path, with_exif(scene, orientation=8))
    assert row["orientation"] == 8
    sketch = Sketches(tmp_path, "full").of(row)
    assert sketch.grey.shape == (213, 320)


def test_sketches_of_one_camera_are_alike_whatever_they_come_from(tmp_path, scene):
    shape, odd = (6000, 4000), scene.resize((1616, 1080))
    (tmp_path / "a.jpg").write_bytes(jpeg(odd))
    file = look_at(tmp_path, "a.jpg")
    sketch = readers.from_preview(file, 0, file.size, shape)
    assert sketch.grey.shape == (213, 320)  # 1616 x 1080 by itself would give 214 rows


def test_bars_are_cut_off_a_preview(tmp_path, scene):
    barred = Image.new("RGB", (640, 480))
    barred.paste(scene.resize((640, 427)), (0, 26))
    row = one(tmp_path, with_preview(with_exif(scene), jpeg(barred)))
    sketch = Sketches(tmp_path).of(row)
    assert (sketch.width_px, sketch.height_px, sketch.grey.shape) == (640, 427, (213, 320))
    whole = np.asarray(scene.convert("L").resize((320, 213), Image.Resampling.BOX), dtype=float)
    assert abs(sketch.grey - whole).mean() < 2
    assert without_bars(scene.resize((640, 480)), 1.5) is None
    assert without_bars(scene, 1.51) is scene


@pytest.mark.parametrize(
    ("size", "why"),
    [
        ((640, 480), "preview in a.jpg: not of the picture's shape"),
        ((426, 640), "preview in a.jpg: not of the picture's shape"),
        ((400, 267), "preview in a.jpg: too small to measure (400 x 267 px)"),
    ],
)
def test_a_preview_that_will_not_do_is_passed_over(tmp_path, scene, size, why):
    row = one(tmp_path, with_preview(with_exif(scene), jpeg(scene.resize(size))))
    few = Sketches(tmp_path)
    assert (few.of(row), few.why(row)) == (None, why)
    assert Sketches(tmp_path, "full").of(row).source == "full decode"


def test_thumbnails_of_exif_are_never_used(tmp_path, scene):
    thumbnail = jpeg(scene.resize((600, 400)))
    row = one(tmp_path, with_exif(scene)) | {"thumbnail_jpeg": thumbnail}
    assert Sketches(tmp_path).why(row) == NO_PREVIEW


def test_modes(tmp_path, scene):
    row = one(tmp_path, with_exif(scene))
    assert (Sketches(tmp_path, "off").of(row), Sketches(tmp_path, "off").why(row)) == (None, OFF)
    assert (Sketches(tmp_path).of(row), Sketches(tmp_path).why(row)) == (None, NO_PREVIEW)
    assert (Sketches(tmp_path, "full").why(row), Sketches(tmp_path, "full").of(row) is None) == ("", False)
    assert Sketches(tmp_path, "full").why(row | {"files": []}) == NOTHING
    with pytest.raises(ValueError, match="mode 'some'"):
        Sketches(tmp_path, "some")


def test_the_next_file_serves_where_the_first_is_damaged(tmp_path, scene):
    (tmp_path / "a.jpg").write_bytes(with_exif(scene)[:3000])
    (tmp_path / "b.jpg").write_bytes(with_exif(scene))
    row = {"frame": "a", "files": ["a.jpg", "b.jpg"]}
    assert Sketches(tmp_path, "full").of(row).source == "full decode"
    row = {"frame": "a", "files": ["a.jpg", "a.jpg", "gone.jpg"]}
    assert Sketches(tmp_path, "full").why(row) == (
        "a.jpg: the picture is damaged and cannot be decoded; "
        "gone.jpg: cannot be opened: No such file or directory"
    )


def test_damage_is_told_and_never_raised(tmp_path, scene):
    good = with_preview(with_exif(scene), jpeg(scene.resize((640, 427))))
    row = one(tmp_path, good)
    for cut in (0, 100, row["preview_offset"] + 10, row["preview_offset"] + 900, len(good) - 2000):
        (tmp_path / "a.jpg").write_bytes(good[:cut])
        assert "damaged" in Sketches(tmp_path).why(row)
    rng = np.random.default_rng(5)
    for _ in range(40):
        data = bytearray(good)
        for place in rng.integers(0, 3000, 6):
            data[place] = rng.integers(256)
        (tmp_path / "a.jpg").write_bytes(bytes(data))
        pictures = Sketches(tmp_path, "full")
        assert (pictures.of(row | {"preview_file": None}) is None) == bool(pictures.why(row))


def test_what_is_no_file_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "a.jpg")
    (tmp_path / "b.jpg").mkdir()
    for name in ("a.jpg", "b.jpg"):
        row = {"frame": name, "files": [name]}
        assert Sketches(tmp_path, "full").why(row) == f"{name}: is no file"
    row = {
        "frame": "c",
        "files": ["c\0.jpg"],
        "preview_file": "c\0.jpg",
        "preview_offset": 9,
        "preview_bytes": 9,
    }
    assert "cannot be opened" in Sketches(tmp_path, "full").why(row)


def test_bombs_are_refused_before_they_are_decoded(tmp_path, scene):
    start = time.process_time()
    huge = bytearray(with_exif(scene))
    place = huge.index(b"\xff\xc0") + 5
    huge[place : place + 4] = struct.pack(">HH", 65_000, 65_000)
    (tmp_path / "a.jpg").write_bytes(bytes(huge))
    assert "too many pixels" in Sketches(tmp_path, "full").why({"frame": "a", "files": ["a.jpg"]})
    wide = bytearray(with_exif(scene, progressive=True))
    place = wide.index(b"\xff\xc2") + 5
    wide[place : place + 4] = struct.pack(">HH", 15_000, 15_000)  # kept whole in memory until its last pass
    (tmp_path / "b.jpg").write_bytes(bytes(wide))
    assert "too many pixels" in Sketches(tmp_path, "full").why({"frame": "b", "files": ["b.jpg"]})
    endless = with_exif(scene, progressive=True) + b"\xff\xda" * 300
    (tmp_path / "c.jpg").write_bytes(endless)
    assert "passes" in Sketches(tmp_path, "full").why({"frame": "c", "files": ["c.jpg"]})
    row = {"frame": "d", "files": [], "preview_file": "c.jpg", "preview_offset": 0, "preview_bytes": 1 << 40}
    assert "larger than" in Sketches(tmp_path).why(row)
    assert time.process_time() - start < 3


def test_hostile_files_never_raise_nor_hang():
    dump = shared("hostile")
    pictures = Sketches(dump, "full")
    start = time.process_time()
    for path in sorted(dump.iterdir()):
        row = {"frame": path.name, "files": [path.name]}
        assert (pictures.of(row) is None) == bool(pictures.why(row)), path.name
    assert time.process_time() - start < 5


def test_few_are_held_in_memory_and_none_is_decoded_twice(tmp_path, scene, monkeypatch):
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    dump = tmp_path / "dump"
    dump.mkdir()
    (dump / "a.jpg").write_bytes(with_exif(scene.resize((300, 200))))
    read = []
    real = readers.from_picture
    monkeypatch.setattr(sources.readers, "from_picture", lambda file: read.append(file) or real(file))
    frames = [
        {"frame": f"{n}", "files": ["a.jpg"], "width_px": n, "height_px": 1} for n in range(IN_MEMORY + 6)
    ]
    with Sketches(dump, "full", dump / "a.jpg" / "no place") as pictures:
        made = [pictures.of(row) for row in frames]
        assert len(pictures._recent) == IN_MEMORY
        assert len(read) == len(frames)
        again = [pictures.of(row) for row in frames]
        assert len(read) == len(frames)
        assert all(np.array_equal(a.grey, b.grey) for a, b in zip(made, again, strict=True))
        assert len(list(place.iterdir())) == 1
    assert list(place.iterdir()) == []
    Sketches(dump, "full").of(frames[0])
    assert list(place.iterdir()) == []
    monkeypatch.setattr(tempfile, "mkdtemp", lambda **_: (_ for _ in ()).throw(OSError("no place at all")))
    assert Sketches(dump, "full").of(frames[0]) is not None


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heif_is_turned_back_to_how_it_is_stored(scene, orientation):
    stored = scene.resize((300, 200))
    exif = stored.getexif()
    exif[0x0112] = orientation
    out = io.BytesIO()
    stored.save(out, "PNG", exif=exif)
    upright = ImageOps.exif_transpose(Image.open(out))
    assert upright.size == ((200, 300) if orientation >= 5 else (300, 200))
    back = readers.as_stored(upright, stored.size, orientation)
    assert np.array_equal(np.asarray(back), np.asarray(stored))
    if orientation >= 5:  # a decoder that turned nothing
        assert readers.as_stored(stored, stored.size, orientation) is stored


def test_real_heif(monkeypatch):
    pytest.importorskip("pi_heif", reason="the HEIF library is not installed")
    dump = shared("photos/formats")
    found = {row["frame"]: row for row in rows(dump) if row["formats"] == "HEIF"}
    sketch = Sketches(dump, "full").of(found["heic_Issue_263_dotnet"])
    assert found["heic_Issue_263_dotnet"]["orientation"] == 6
    assert (sketch.source, sketch.width_px, sketch.height_px, sketch.exact) == (
        "full decode",
        4032,
        3024,
        True,
    )
    assert sketch.grey.shape == (240, 320)
    assert Sketches(dump).why(found["heic_IMG_2927"]) == NO_PREVIEW


def test_what_is_not_installed_is_named(tmp_path, monkeypatch):
    def absent(name: str) -> str:
        raise readers.metadata.PackageNotFoundError(name)

    monkeypatch.setattr(readers.metadata, "version", absent)
    (tmp_path / "a.heic").write_bytes(b"\0\0\0\x18ftypheic" + bytes(40))
    (tmp_path / "b.nef").write_bytes(b"II*\0" + bytes(40))
    pictures = Sketches(tmp_path, "full")
    assert pictures.why({"frame": "a", "files": ["a.heic"]}) == "HEIF: install cornerstop[heif]"
    assert "install cornerstop[raw]" in pictures.why({"frame": "b", "files": ["b.nef"]})


def test_damaged_heif_and_raw_are_told(tmp_path, capfd):
    pytest.importorskip("pi_heif", reason="the HEIF library is not installed")
    pytest.importorskip("rawpy", reason="the raw library is not installed")
    dump = shared("photos")
    for name in ("formats/heic_IMG_2927.HEIC", "raw_crw_CC0/CRW_0101.CRW", "formats/t_images_FujiFilm.raf"):
        data = (dump / name).read_bytes()
        for cut in (30, 3000, len(data) // 2):
            target = tmp_path / Path(name).name
            target.write_bytes(data[:cut])
            pictures = Sketches(tmp_path, "full")
            row = {"frame": name, "files": [target.name]}
            assert (pictures.of(row) is None) == bool(pictures.why(row))
    assert capfd.readouterr() == ("", "")


def test_a_real_raw_at_half_its_size():
    pytest.importorskip("rawpy", reason="the raw library is not installed")
    dump = shared("photos/raw_crw_CC0")
    row = rows(dump)[0]
    preview = Sketches(dump, "full").of(row)
    sketch = Sketches(dump, "full").of(row | {"preview_file": None})
    assert (sketch.source, sketch.exact) == ("raw half-size", False)
    assert sketch.grey.shape == preview.grey.shape == (240, 320)
    raw, shown = light_stops(sketch.grey), light_stops(preview.grey)
    both = np.isfinite(raw) & np.isfinite(shown)
    assert np.corrcoef(raw[both], shown[both])[0, 1] > 0.85
    slope = np.polyfit(shown[both], raw[both], 1)[0]
    assert 0.7 < slope < 1.2  # a JPEG is steeper than the light, and the two are cut a little differently


def test_codes_of_raw_light_are_read_back_as_that_light():
    doubled = np.array([1000, 2000, 4000, 8000, 16_000, 32_000])
    assert np.diff(light_stops(readers._CODES[doubled])) == pytest.approx(1, abs=0.06)
    assert (np.diff(readers._CODES.astype(int)) >= 0).all()
    assert (readers._CODES[0], readers._CODES[-1]) == (0, 255)


def test_a_jpeg_with_a_preview_is_decoded_as_grey_too(tmp_path, scene):
    (tmp_path / "a.jpg").write_bytes(with_preview(with_exif(scene), jpeg(scene.resize((640, 427)))))
    assert grey_codes(tmp_path / "a.jpg").shape == (600, 900)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("compression", [None, "tiff_lzw"])
def test_a_tiff_stays_as_it_is_stored(tmp_path, orientation, compression):
    stored = np.zeros((40, 60), np.uint8)
    stored[:10, :10] = 255
    exif = Image.Exif()
    exif[0x0112] = orientation
    Image.fromarray(stored).save(tmp_path / "a.tif", exif=exif, compression=compression)
    assert (grey_codes(tmp_path / "a.tif") == stored).all()
