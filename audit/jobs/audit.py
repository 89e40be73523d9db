"""The whole audit in one readable function: scan, join, measure, look at the pictures, estimate, check."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from pathlib import Path

import pandas as pd

from audit.check import run_checks
from audit.corners.kept import KeptCorners
from audit.corners.leaning import add_leanings
from audit.corners.prediction import Prediction
from audit.corners.verdict import add_corners
from audit.declare import Joined, Loaded, add_gear, join, lens_optics, load
from audit.declare.rig import Rig
from audit.disk.dumps import Dump, title
from audit.exposure.arithmetic import add_arithmetic
from audit.exposure.estimate import add_estimate, add_independent
from audit.exposure.light import add_light
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.exposure.sun import Place, add_sky
from audit.finding import CheckRun, Finding
from audit.kit.kit import Kit
from audit.pixels.measure import PixelResult, add_pixels
from audit.pixels.overview import name_markers
from audit.pixels.sources import Mode, Sketches
from audit.pixels.unseen import not_looked_at
from audit.prints.airy import add_airy
from audit.prints.choose import Chosen, choose
from audit.prints.kept import add_kept
from audit.result import Result
from audit.scan import Scan, scan
from audit.table.columns import ALL
from audit.xmp.told import add_told

Progress = Callable[[int, int], None]


def _measured(
    scanned: Scan, loaded: Loaded, place: Place | None, cache: Path | None
) -> tuple[Joined, pd.DataFrame, dict[str, Prediction], str]:
    """Joined with what was worn; with light, sun, what the filters should have given, what the rigs cut.

    The last says why no prediction is kept for the next run, "" where it is.
    """
    kit = loaded.kit
    joined = join(add_gear(scanned.frames, kit), kit, loaded.declarations)
    frames = add_sky(add_setups(add_scenes(joined.frames, kit)), kit, place)
    frames = add_airy(add_arithmetic(add_light(frames, kit), kit))
    with KeptCorners(cache) as kept:
        frames, corners = add_corners(frames, joined.rigs, kit, lens_optics(frames), kept)
    return joined, frames, corners, kept.fault


def _looked_at(
    frames: pd.DataFrame,
    rigs: Mapping[str, Rig],
    corners: Mapping[str, Prediction],
    kit: Kit,
    pictures: Sketches,
    tick: Progress | None,
    cache: Path | None,
) -> PixelResult:
    """With what the pictures show."""
    if pictures.mode == "off":
        return not_looked_at(frames, rigs, kit)
    with pictures:
        return add_pixels(frames, rigs, corners, kit, pictures, tick, cache)


def _estimated(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """With what exposures and brightness tell of the filters, and without the photographer's word."""
    bright = frames["picture_stops"].to_numpy(dtype=float)
    return add_independent(add_estimate(frames, kit, rendered_stops=bright), kit)


def _checked(
    frames: pd.DataFrame, scanned: Scan
) -> tuple[pd.DataFrame, Chosen, list[Finding], list[CheckRun]]:
    """With what the photographer chose and wrote beside the pictures; that, and what the checks find."""
    chosen = choose(scanned.frames, scanned.beside)
    frames = add_told(add_kept(frames, chosen), scanned.beside)
    frames = frames[[column.name for column in ALL]].copy()  # in one piece; else each check pays for it
    return frames, chosen, *run_checks(frames)


def audit(
    dump: Dump,
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    skip: Collection[Path] = (),
    pixels: Mode = "preview",
    cache: Path | None = None,
    place: Place | None = None,
    tick: Progress | None = None,
    begin: Callable[[str], None] = lambda stage: None,
) -> Result:
    """Audits a dump, or several as one trip.

    Nothing is written, but for small pictures in the file `cache`, if one is named, and for what was read of
    the files, and what rigs cut, in two beside it.

    `declarations` is a mirror tree for dumps that cannot be written; `skip` are folders never scanned;
    `pixels` says whether embedded previews are measured, all pictures decoded ("full"), or none ("off").
    `place` (latitude, longitude in degrees) leads to the sun where neither files nor kit tell it.
    `begin` gets the code of each stage as it begins (reading, comparing, looking, estimating,
    checking), `tick` (files read, files in all) while reading, and (frames looked at, frames in all) while
    looking. Raises AuditError when the dump is no folder, and DeclarationError with every mistake when kit or
    declarations cannot be understood.
    """
    loaded = load(dump, kit_path, declarations, skip, strict=False)
    begin("reading")
    scanned = scan(dump, skip=skip, cache=cache, progress=tick)
    begin("comparing")
    joined, frames, corners, unkept = _measured(scanned, loaded, place, cache)
    begin("looking")
    pictures = Sketches(dump, pixels, cache)
    shown = _looked_at(frames, joined.rigs, corners, loaded.kit, pictures, tick, cache)
    begin("estimating")
    frames = _estimated(add_leanings(name_markers(shown.frames)), loaded.kit)
    begin("checking")
    frames, chosen, findings, checks = _checked(frames, scanned)
    return Result(
        title=title(dump),
        frames=frames,
        passed_over=scanned.passed_over,
        files_seen=scanned.files_seen,
        unlisted=scanned.unlisted,
        rigs=joined.rigs,
        corners=corners,
        findings=tuple(findings),
        checks=tuple(checks),
        mistakes=tuple(sorted({*loaded.warnings, *joined.mistakes, *chosen.mistakes})),
        kit=loaded.kit,
        pixels=pixels,
        dump=dump,
        evidence=shown.evidence,
        filters=shown.filters,
        curves=shown.curves,
        unkept=scanned.unkept or unkept or pictures.unkept,
        cache=cache,
    )
