"""Writes the invented trip: cards, pictures, kit, declarations and, beside the dump, the truth."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import lru_cache
from itertools import pairwise
from pathlib import Path, PurePosixPath

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from audit.demo.camera import PREVIEW_PX, develop, enlarged_jpeg, preview, through, thumbnail
from audit.demo.declared import declarations
from audit.demo.exif_block import with_exif
from audit.demo.header import Stored, jpeg_header, raw_file, with_preview
from audit.demo.kit_file import KIT
from audit.demo.plan import TRIP
from audit.demo.scene import Light, paint
from audit.demo.schedule import Frame, frames
from audit.demo.truth import truth_table, view_of
from audit.errors import AuditError

DUMP = "trip"
WIDTH_PX, HEIGHT_PX = 900, 600
RAW_COLUMNS, RAW_ROWS = 96, 64
RAW_PREVIEW_QUALITY = 50
_SIDECAR = '<?xpacket begin="" id=""?><x:xmpmeta xmlns:x="adobe:ns:meta/"/><?xpacket end="r"?>\n'
_TORN_BYTES = 60


Files = Iterator[tuple[str, bytes]]


def write_trip(
    folder: Path, *, small: bool = False, progress: Callable[[int, int], None] | None = None
) -> Path:
    """Writes `folder/trip` (the dump) and `folder/truth.json`; returns the dump's path.

    The same bytes every time. `small`: pictures as painted, 900 x 600 px, few of them larger, in place of the
    24 and 12 megapixels of the cameras; their previews are the same, and raw files are small in both.
    `progress` gets (frames done, frames in all). Raises AuditError when the folder is a file or holds
    anything.
    """
    _refuse_unless_empty(folder)
    for name, data in trip_files(small=small, progress=progress):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)  # deletes: nothing: the folder was refused unless empty
    return folder / DUMP


def trip_files(*, small: bool = False, progress: Callable[[int, int], None] | None = None) -> Files:
    """All files of the trip as (name below the folder, bytes), the truth last."""
    made = frames(TRIP)
    tags = {frame.id: list(frame.take.tags) for frame in made}
    copied = _copied(made)
    for done, frame in enumerate(made, start=1):
        for name, data in _frame_files(frame, small=small):
            yield f"{DUMP}/{name}", data
            if name == f"{copied.id}.JPG":
                yield f"{DUMP}/selection/{copied.name}.JPG", data
        if progress:
            progress(done, len(made))
    _paint_cached.cache_clear()
    tags[copied.id].append("copied")
    for name, data in _files_beside(made, tags):
        yield f"{DUMP}/{name}", data
    _tag_order(made, tags)
    yield f"{DUMP}/kit.toml", KIT.encode()
    for home, words in declarations(made).items():
        yield (PurePosixPath(DUMP) / home / "filters.toml").as_posix(), words.encode()
    yield "truth.json", (json.dumps(truth_table(made, tags), indent=1) + "\n").encode()


def _refuse_unless_empty(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise AuditError(f"{folder}: is a file; name a new or empty folder for the demo trip")
    if folder.exists() and any(folder.iterdir()):
        raise AuditError(f"{folder}: is not empty; name a new or empty folder for the demo trip")


def _frame_files(frame: Frame, *, small: bool) -> Files:
    """The JPEG of a frame, its raw file, or what a fault left of them."""
    pixels = _picture(frame)
    thumb = thumbnail(pixels)
    if frame.take.odd != "raw-only":
        size = stored_px(frame, small=small)
        block = jpeg_header(frame, *size, thumb)
        data = with_preview(with_exif(enlarged_jpeg(pixels, *size), block), preview(pixels))
        if frame.take.odd == "torn":
            data = data[:_TORN_BYTES]
        elif frame.take.odd == "blank":
            data = bytes(len(data))
        yield f"{frame.id}.JPG", data
    if frame.scene.raw:
        yield f"{frame.id}.DNG", _raw(frame, pixels, thumb)


def _picture(frame: Frame) -> NDArray[np.uint8]:
    """The frame as stored: upright scenes lie on their side, the camera's right edge up."""
    scene, take = frame.scene, frame.take
    still = min(1.0, max(0.0, (np.log2(frame.exact_s) + 4) / 7))
    hour = frame.true_time.hour + (frame.true_time.minute // 30) / 2
    light = _paint_cached(scene.look, scene.seed, hour, round(still * 4) / 4, scene.upright)
    exposed = through(light, view_of(frame), take.on, frame.relative_exposure)
    return develop(exposed, frame.iso, seed=scene.seed * 1000 + frame.number)


def stored_px(frame: Frame, *, small: bool) -> tuple[int, int]:
    """Columns and rows of a frame's JPEG as stored; `small`: little more than was painted."""
    scene, body = frame.scene, frame.body
    if small:
        return WIDTH_PX * scene.enlarged, HEIGHT_PX * scene.enlarged
    return body.columns_px // scene.reduced, body.rows_px // scene.reduced


@lru_cache(maxsize=4)
def _paint_cached(look: str, seed: int, hour: float, still_water: float, upright: bool) -> Light:
    if not upright:
        return paint(look, seed, WIDTH_PX, HEIGHT_PX, hour, still_water)
    return np.rot90(paint(look, seed, HEIGHT_PX, WIDTH_PX, hour, still_water), -1)


def _raw(frame: Frame, pixels: NDArray[np.uint8], thumb: bytes) -> bytes:
    """A small raw file with a mosaic made from the picture, and a preview."""
    picture = Image.fromarray(pixels)
    tiny = np.asarray(picture.resize((48, 32), Image.Resampling.BOX))
    mosaic = np.asarray(picture.resize((RAW_COLUMNS, RAW_ROWS), Image.Resampling.BOX)).astype("<u2") * 64
    channel = np.array([[0, 1], [1, 2]])[np.arange(RAW_ROWS)[:, None] % 2, np.arange(RAW_COLUMNS) % 2]
    one = np.take_along_axis(mosaic, channel[..., None], axis=2)[..., 0]
    larger = preview(pixels, quality=RAW_PREVIEW_QUALITY)
    rows = round(PREVIEW_PX * HEIGHT_PX / WIDTH_PX)
    stored = Stored(one.tobytes(), RAW_COLUMNS, RAW_ROWS), Stored(larger, PREVIEW_PX, rows)
    return raw_file(frame, thumb, tiny.tobytes(), *stored)


def _copied(made: list[Frame]) -> Frame:
    """The picture that lies once more, byte for byte, in a folder of favourites."""
    return next(f for f in made if f.scene.seed == 23 and "rule-22" in f.take.tags)


def _files_beside(made: list[Frame], tags: dict[str, list[str]]) -> Files:
    """What else lies on cards: sidecars, resource files, the camera's own folder."""
    first, second = made[0], made[1]
    yield f"{first.id}.XMP", _SIDECAR.encode()
    yield f"{first.folder}/._{second.name}.JPG", b"\0\5\x16\7" + bytes(60)
    yield f"{first.body.card}/MISC/PRINT.MRK", b"[HDR]\r\n"
    tags[first.id].append("beside")
    tags[second.id].append("beside")


def _tag_order(made: list[Frame], tags: dict[str, list[str]]) -> None:
    """Innocent look-alikes of lost frames and lost JPEGs: wraps, new folders, bodies without raw."""
    for before, after in pairwise(made):
        if before.body == after.body and before.folder != after.folder:
            tags[after.id].append("wrapped" if after.counter < before.counter else "new-folder")
    for frame in made:
        if not frame.scene.raw and frame.take.odd not in ("torn", "blank"):
            tags[frame.id].append("jpeg-only")
