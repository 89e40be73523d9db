"""Drafted spans accepted without an editor: found by sureness and frames, their marks taken off."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.declare import add_gear, join, load
from audit.declare.accept import is_meant, with_accepted
from audit.declare.draft_write import DraftChange, shown_path, target_and_source
from audit.declare.index import FrameIndex, frame_index
from audit.declare.marks import NO_NEUTRAL, Block
from audit.declare.span_rules import span_faults
from audit.declare.spans import cover
from audit.declare.worn import Worn
from audit.disk.dumps import Dump, tops
from audit.errors import AuditError
from audit.jobs.draft import drafted_frames, written_blocks
from audit.scan import scan
from audit.toml.text_file import read_text


@dataclass(frozen=True)
class Accepted:
    """What each file would become, and of how many frames the spans are that were meant, or not and why.

    `no_neutral` counts those of `frames` that were accepted as without a neutral, all else left open;
    `beyond` of spans that lie only partly in the frames asked for; `covered` of spans that another one covers
    by now, or whose files are gone. `left` are drafted spans that are still as they were.
    """

    changes: tuple[DraftChange, ...]
    spans: int
    frames: int
    no_neutral: int
    beyond: int
    covered: int
    left: int


def accept_dump(
    dump: Dump,
    level: str,
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    within: Worn | None = None,
    bare: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Accepted:
    """Takes the marks off drafted spans of a sureness or better. Nothing is written.

    `within`: only of frames that this span covers. With `bare`, spans without a neutral become bare lenses.
    Raises AuditError where nothing was drafted or `within` names no frames, else as `draft_dump`.
    """
    loaded = load(dump, kit_path, declarations, drafts=False)
    blocks = [(f, b) for f, b in written_blocks(loaded.declarations, dump, declarations) if b.own]
    if not blocks:
        raise AuditError(
            f"{dump}: no span of its declarations is as it was drafted; run "
            f"`cornerstop draft {shlex.join(map(str, tops(dump)))} --write`"
        )
    scanned = scan(dump, progress=progress)
    frames = join(add_gear(scanned.frames, loaded.kit), loaded.kit, loaded.declarations).frames
    return accepted_from(frames, blocks, level, dump, declarations, within, bare=bare)


def accepted_from(
    frames: pd.DataFrame,
    blocks: list[tuple[str, Block]],
    level: str,
    dump: Dump,
    mirror: Path | None,
    within: Worn | None = None,
    *,
    bare: bool = False,
) -> Accepted:
    """The same for frames with the join columns, and the drafted spans with the folders they stand in."""
    index = frame_index(frames)
    asked = _asked(within, index)
    silent = (frames["declaration"] == "undeclared").to_numpy(dtype=bool)
    taken: list[tuple[str, Block]] = []
    count = dict.fromkeys(("frames", "no_neutral", "beyond", "covered"), 0)
    for folder, block in blocks:
        rows = _rows(folder, block, index)
        if not is_meant(block, level) or (len(rows) and not asked[rows].any()):
            continue
        why = _why_not(rows, asked, silent)
        count[why or "frames"] += len(rows)
        count["no_neutral"] += len(rows) * (not why and not bare and block.kind == NO_NEUTRAL)
        taken += [] if why else [(folder, block)]
    changes = [
        _change(folder, [block for _, block in both], dump, mirror, bare)
        for folder, both in groupby(taken, key=lambda pair: pair[0])
    ]
    return Accepted(tuple(changes), len(taken), left=len(blocks) - len(taken), **count)


def _asked(within: Worn | None, index: FrameIndex) -> NDArray[np.bool_]:
    """The frames that the span asked for covers; all without one."""
    if within is None:
        return np.ones(len(index.frames), dtype=bool)
    wrong = [fault.text for fault in span_faults(within)]
    if wrong:
        raise AuditError(wrong[0])
    covered = cover(within, ".", index)
    asked = np.zeros(len(index.frames), dtype=bool)
    asked[covered.rows] = True
    if covered.faults:
        fault = covered.faults[0]
        raise AuditError(fault.text + "; or give --times" * (fault.key == "body"))
    if not asked.any():
        raise AuditError(
            "no frame of the dump lies between these times; write true local times, as in 2026-05-02T05:10:00"
        )
    return asked


def _rows(folder: str, block: Block, index: FrameIndex) -> NDArray[np.int64]:
    spans = drafted_frames([(folder, block)])
    return cover(spans[0][1], folder, index).rows if spans else np.zeros(0, dtype=np.int64)


def _why_not(rows: NDArray[np.int64], asked: NDArray[np.bool_], silent: NDArray[np.bool_]) -> str:
    """Why a span that is sure enough is not accepted; empty where it is."""
    if not len(rows) or not silent[rows].all():
        return "covered"
    return "" if asked[rows].all() else "beyond"


def _change(folder: str, blocks: list[Block], dump: Dump, mirror: Path | None, bare: bool) -> DraftChange:
    target, source = target_and_source(folder, dump, mirror)
    before, shown = read_text(source), shown_path(folder)
    after = with_accepted(before, blocks, shown, bare=bare)
    return DraftChange(target, shown, before, before if source == target else None, after)
