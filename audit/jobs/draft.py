"""A draft of a dump's declarations from its exposures: read, estimate, put in the photographer's format."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path

from audit.declare import add_gear, join, load
from audit.declare.draft import FolderDraft, draft, questions
from audit.declare.draft_write import DraftChange, plan
from audit.errors import Mistake
from audit.exposure.estimate import add_estimate
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.exposure.sun import Place, add_sky
from audit.pixels.overview import look_over, name_markers
from audit.pixels.sources import Mode, Sketches
from audit.scan import scan

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Drafted:
    """What was drafted, what each file would become, what to ask the photographer, and what is wrong already.

    `frames` counts all frames, `silent` those no declaration covers.
    """

    drafts: tuple[FolderDraft, ...]
    changes: tuple[DraftChange, ...]
    questions: tuple[str, ...]
    mistakes: tuple[Mistake, ...]
    frames: int
    silent: int


def draft_dump(
    dump: Path,
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    place: Place | None = None,
    skip: Collection[Path] = (),
    pixels: Mode = "preview",
    cache: Path | None = None,
    progress: Progress | None = None,
    looking: Progress | None = None,
) -> Drafted:
    """Drafts what no declaration says yet. Nothing is written.

    `declarations` is a mirror tree that the drafts go to; all else is as for the audit. Raises AuditError
    when the dump is no folder, DeclarationError with every mistake when kit or declarations cannot be
    understood.
    """
    loaded = load(dump, kit_path, declarations, skip)
    scanned = scan(dump, skip=skip, progress=progress)
    joined = join(add_gear(scanned.frames, loaded.kit), loaded.kit, loaded.declarations)
    frames = add_sky(add_setups(add_scenes(joined.frames, loaded.kit)), loaded.kit, place)
    with Sketches(dump, pixels, cache) as pictures:
        frames = name_markers(look_over(frames, pictures, looking))
    bright = frames["picture_stops"].to_numpy(dtype=float)
    frames = add_estimate(frames, loaded.kit, rendered_stops=bright)
    drafts = draft(frames, loaded.kit, {d.folder for d in loaded.declarations})
    return Drafted(
        tuple(drafts),
        tuple(plan(folder, dump, declarations) for folder in drafts),
        tuple(questions(drafts)),
        tuple(sorted({*loaded.warnings, *joined.mistakes})),
        len(frames),
        int((frames["declaration"] == "undeclared").sum()),
    )
