"""All that one audit knows, handed to the report."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import pandas as pd

from audit.corners.prediction import Prediction
from audit.declare.rig import Rig
from audit.disk.dumps import Dump
from audit.errors import Mistake
from audit.finding import CheckRun, Finding
from audit.kit.kit import Kit
from audit.pixels.evidence import CameraCurve, Evidence, FilterShown
from audit.table.rows import Rows


@dataclass(frozen=True)
class Result:
    """`frames` has every column of `audit.table.columns.ALL`, one row a frame, in scan order.

    `files_seen` equals the files in `frames` plus the rows of `passed_over` (columns path, reason), among
    which `unlisted` are folders that could not be listed to their end.
    `rigs` maps the table's `rig` to what was worn, `corners` its `corner` to what was predicted, `evidence` a
    frame to what its pixels show against another. `pixels` is the mode: preview, full or off.
    `dump` is where the pictures lie, for a report that shows them larger; None: it shows none. `unkept` says
    which file keeps nothing for the next run, and why; "" where all is kept. Beside the file `cache` a report
    keeps what it shows larger; None: nothing.
    """

    title: str
    frames: pd.DataFrame
    passed_over: pd.DataFrame
    files_seen: int
    rigs: dict[str, Rig]
    corners: dict[str, Prediction]
    findings: tuple[Finding, ...]
    checks: tuple[CheckRun, ...]
    mistakes: tuple[Mistake, ...]
    kit: Kit
    pixels: str = "off"
    dump: Dump | None = None
    evidence: dict[str, Evidence] = field(default_factory=dict)
    filters: tuple[FilterShown, ...] = ()
    curves: tuple[CameraCurve, ...] = ()
    unlisted: tuple[str, ...] = ()
    unkept: str = ""
    cache: Path | None = None

    @cached_property
    def rows(self) -> Rows:
        """The rows of `frames`, made once."""
        return Rows(self.frames)
