"""A draft of a dump's declarations from its exposures: read, estimate, put in the photographer's format."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
from pydantic import ValidationError

from audit.declare import Joined, add_gear, join, load
from audit.declare.answer import Answer, Said, answers, as_declarations, frames_word
from audit.declare.draft import FolderDraft, draft
from audit.declare.draft_write import DraftChange, plan, shown_path, target_and_source
from audit.declare.index import frame_index
from audit.declare.marks import Block, marked_blocks
from audit.declare.questions import Question, questions
from audit.declare.read import Loaded
from audit.declare.worn import Declaration, Worn
from audit.disk.dumps import Dump
from audit.errors import AuditError, Mistake
from audit.exposure.changes import exposure_changes
from audit.exposure.estimate import add_estimate
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.exposure.states import possible_states
from audit.exposure.sun import Place, add_sky
from audit.pixels.overview import look_over, name_markers
from audit.pixels.sources import Mode, Sketches
from audit.report.untold import ChangeLine, change_lines, more_words
from audit.scan import scan
from audit.table.columns import records
from audit.toml.text_file import read_text

Progress = Callable[[int, int], None]
FRAMES = ("files", "times", "body")
"""The keys of a span that say which frames it is of."""


@dataclass(frozen=True)
class Drafted:
    """What was drafted, what each file would become, what to ask the photographer, and what is wrong already.

    `frames` counts all frames, `silent` those no declaration covers; `able` is whether the kit has filters to
    look for, `declared` the folders that have a declaration. `left` are places (file and line) of drafted
    spans that were changed and declare nothing, `estimated` of those that still call themselves an estimate.
    `answered` counts the frames that were spoken of with the command; `words` are the frames of each question
    as `--say` takes them, "" where they cannot be written. Where the kit has no filters, `changed` says
    what the exposures tell without them, and `more` how many changes are left out.
    """

    drafts: tuple[FolderDraft, ...]
    changes: tuple[DraftChange, ...]
    questions: tuple[Question, ...]
    mistakes: tuple[Mistake, ...]
    frames: int
    silent: int
    able: bool
    declared: frozenset[str]
    left: tuple[str, ...] = ()
    estimated: tuple[str, ...] = ()
    answered: int = 0
    words: tuple[str, ...] = ()
    changed: tuple[ChangeLine, ...] = ()
    more: str = ""


def draft_dump(
    dump: Dump,
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    place: Place | None = None,
    skip: Collection[Path] = (),
    pixels: Mode = "preview",
    cache: Path | None = None,
    said: Sequence[Said] = (),
    progress: Progress | None = None,
    looking: Progress | None = None,
) -> Drafted:
    """Drafts what no declaration says, and again what was drafted and left as it was. Nothing is written.

    `declarations` is a mirror tree that the drafts go to, `said` are answers, which count as if they stood in
    the declarations; all else is as for the audit. Raises AuditError when the dump is no folder or an answer
    cannot be taken, DeclarationError with every mistake when kit or declarations cannot be
    understood.
    """
    loaded = load(dump, kit_path, declarations, skip, drafts=False)
    scanned = scan(dump, skip=skip, cache=cache, progress=progress)
    joined, given = joined_with(add_gear(scanned.frames, loaded.kit), loaded, said)
    frames = add_sky(add_setups(add_scenes(joined.frames, loaded.kit)), loaded.kit, place)
    with Sketches(dump, pixels, cache) as pictures:
        frames = name_markers(look_over(frames, pictures, looking))
    bright = frames["picture_stops"].to_numpy(dtype=float)
    frames = add_estimate(frames, loaded.kit, rendered_stops=bright)
    return drafted_from(frames, loaded, (*loaded.warnings, *joined.mistakes), dump, declarations, given)


def joined_with(
    frames: pd.DataFrame, loaded: Loaded, said: Sequence[Said]
) -> tuple[Joined, tuple[Answer, ...]]:
    """Frames with gear columns joined with the declarations and the answers, and the spans of these."""
    joined = join(frames, loaded.kit, loaded.declarations)
    if not said:
        return joined, ()
    declared = {one.folder for one in loaded.declarations}
    index = frame_index(joined.frames)
    given = tuple(answers(said, records(joined.frames), index, loaded.kit, declared))
    joined = join(frames, loaded.kit, [*as_declarations(given), *loaded.declarations])
    for one in given:
        after = joined.frames.iloc[list(one.rows)]
        silent = after[after["declaration"] != one.worn.state]
        if len(silent):
            first = silent.iloc[0]
            raise AuditError(
                f"--say: {first['frame']} would not be declared by it ({first['undeclared_reason']}); write "
                "the span into filters.toml"
            )
    return joined, given


def drafted_from(
    frames: pd.DataFrame,
    loaded: Loaded,
    mistakes: Collection[Mistake],
    dump: Dump,
    mirror: Path | None,
    given: Sequence[Answer] = (),
) -> Drafted:
    """The draft of frames with the join and estimate columns, without what was drafted before.

    The frames of the answers that were `given` are declared in the table already.
    """
    blocks = written_blocks(loaded.declarations, dump, mirror)
    left = [(folder, block) for folder, block in blocks if not block.own and block.comment]
    called = [(folder, block) for folder, block in blocks if not block.own and block.estimated]
    declared = frozenset(d.folder for d in loaded.declarations)
    homes = declared | {one.folder for one in given}
    drafts = draft(frames, loaded.kit, homes, drafted_frames(left), given)
    # Spans that the photographer has covered since go away, where nothing is left to draft too.
    gone = {folder for folder, block in blocks if block.own} - {one.folder for one in drafts}
    able = possible_states(loaded.kit) is not None
    empty = [FolderDraft(name, ()) for name in sorted(gone)] if able else []
    changes = [plan(one, dump, mirror) for one in (*drafts, *empty)]
    asked = tuple(questions(drafts))
    index = frame_index(frames) if asked else None
    changed = [] if able else exposure_changes(frames)
    return Drafted(
        tuple(drafts),
        tuple(change for change in changes if change.diff),
        asked,
        tuple(sorted(set(mistakes))),
        len(frames),
        int((frames["declaration"] == "undeclared").sum()),
        able,
        declared,
        _places(left),
        _places(called),
        sum(len(one.rows) for one in given),
        tuple(frames_word(question.rows, index) for question in asked) if index is not None else (),
        change_lines(frames, changed) if changed else (),
        more_words(changed),
    )


def written_blocks(
    declarations: Sequence[Declaration], dump: Dump, mirror: Path | None
) -> list[tuple[str, Block]]:
    """All spans with the mark of a draft, each with the folder of its declaration."""
    found = []
    for folder in sorted(d.folder for d in declarations):
        path = target_and_source(folder, dump, mirror)[1]
        found += [(folder, block) for block in marked_blocks(read_text(path))] if path.exists() else []
    return found


def drafted_frames(blocks: Sequence[tuple[str, Block]]) -> list[tuple[str, Worn]]:
    """The frames of drafted spans that can be read, with the folder of their declaration."""
    found = []
    for folder, block in blocks:
        try:
            found.append((folder, Worn.model_validate({k: v for k, v in block.span.items() if k in FRAMES})))
        except ValidationError:
            continue  # no frames can be read from it
    return found


def _places(blocks: Sequence[tuple[str, Block]]) -> tuple[str, ...]:
    return tuple(f"{shown_path(folder)}:{block.first + 1}" for folder, block in blocks)
