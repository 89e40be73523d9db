"""A frame's larger view and cuts, made by the crew; whatever its files do to a decoder, there is a reason."""

from __future__ import annotations

import os
from concurrent.futures import Future
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from audit.crew.crew import crew_at_work
from audit.crew.process import Failed
from audit.disk.dumps import Dump
from audit.pictures.originals import LOOKED_AT, Row, Seen, number
from audit.pictures.seen_data import unpacked
from audit.pixels.asking import NONSENSE, reason

JOB = "audit.pictures.job"


def asked(dump: Dump, row: Row, *, full: bool) -> Seen:
    """As `originals.seen`, by a worker."""
    name = str(row["frame"])
    answer = crew_at_work().do(JOB, [[_plain_dump(dump), _plain(row), full]])[0]
    match answer:
        case Failed():
            return Seen(why=reason(answer, name))
        case [None, str() as why, str() as why_no_cuts]:
            return Seen(why=why, why_no_cuts=why_no_cuts)
        case [bytes() as packed, "", str() as why_no_cuts] if (made := unpacked(packed)) is not None:
            return replace(made, why_no_cuts=why_no_cuts)
    return Seen(why=reason(NONSENSE, name))


def ahead(dump: Dump, row: Row, *, full: bool) -> Future[Seen]:
    """The same, beside our own work."""
    return crew_at_work().later(partial(asked, dump, row, full=full))


def _plain(row: Row) -> dict[str, Any]:
    file = row.get("preview_file")
    told: dict[str, Any] = {name: number(row, name) for name in LOOKED_AT}
    told |= {"frame": str(row["frame"]), "files": list(map(str, row["files"]))}
    return told | {"preview_file": file if isinstance(file, str) else None}


def _plain_dump(dump: Dump) -> list[Any]:
    if isinstance(dump, Path):
        return [os.fspath(dump), {}, {}]
    return ["", {name: os.fspath(top) for name, top in dump.named.items()}, dict(dump.spelt)]
