"""The whole audit in one readable function: scan, gear, join, measure, check."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path

from audit.check import run_checks
from audit.declare import add_gear, join, lens_optics, load
from audit.measure import add_corners, add_light, add_scenes
from audit.model.result import Result
from audit.scan import scan


def audit(
    dump: Path,
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    skip: Collection[Path] = (),
    progress: Callable[[int, int], None] | None = None,
) -> Result:
    """Audits a dump. Nothing is written.

    `declarations` is a mirror tree for dumps that cannot be written; `skip` are folders never scanned;
    `progress` gets (files done, files in all). Raises AuditError when the dump is no folder, and
    DeclarationError with every mistake when kit or declarations cannot be understood.
    """
    loaded = load(dump, kit_path, declarations, skip)
    kit = loaded.kit
    scanned = scan(dump, skip=skip, progress=progress)
    joined = join(add_gear(scanned.frames, kit), kit, loaded.declarations)
    frames = add_light(add_scenes(joined.frames), kit)
    frames, corners = add_corners(frames, joined.rigs, kit, lens_optics(frames))
    findings, checks = run_checks(frames)
    return Result(
        title=dump.resolve().name,
        frames=frames,
        passed_over=scanned.passed_over,
        files_seen=scanned.files_seen,
        rigs=joined.rigs,
        corners=corners,
        findings=tuple(findings),
        checks=tuple(checks),
        mistakes=tuple(sorted({*loaded.warnings, *joined.mistakes})),
        kit=kit,
    )
