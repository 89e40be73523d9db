"""Real exposure series and ordinary sequences (EXIF values only) as rows of a scan."""

from __future__ import annotations

import json
from collections import Counter
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from audit.optics.exposure import ev100, snap_exposure_time, snap_f_number
from audit.scan.exif import EXPOSURE_MODES, PROGRAMS
from benchmarks.world.run import audited

FILE = Path("/work/shared/reference/series_dev.json")
KIT = """[[ring]]
id = "r77"
thread_mm = 77
[[holder]]
id = "main"
slots = 3
[[filter]]
id = "n3"
kind = "neutral"
stops = 3
[[filter]]
id = "n6"
kind = "neutral"
stops = 6
[[filter]]
id = "n10"
kind = "neutral"
stops = 10
"""


def rows_of(frames: list[dict[str, Any]], folder: str, days: int = 0) -> list[dict[str, Any]]:
    """Rows of one series; each series is a folder of its own, so many days later."""
    return [_row(frame, folder, place, days) for place, frame in enumerate(frames, 1)]


def _row(frame: dict[str, Any], folder: str, place: int, days: int) -> dict[str, Any]:
    name = f"{folder}/{frame['camera'][:4].upper()}{place:04d}"
    row: dict[str, Any] = {
        "frame": name,
        "folder": folder,
        "files": [f"{name}.JPG"],
        "formats": "jpeg",
        "counter": place,
        "copies": [],
        "notes": [],
        "notes_about": [],
        "make": "series",
        "model": frame["camera"],
        "captured_at": datetime.fromisoformat(frame["at"]) + timedelta(days=days) if frame["at"] else None,
        "exposure_bias_stops": frame["bias"],
        "exposure_program": _word(PROGRAMS, frame["program"]),
        "exposure_mode": _word(EXPOSURE_MODES, frame["mode"]),
        "focal_length_mm": frame["focal_mm"],
        "width_px": 6000,
        "height_px": 4000,
        "orientation": 1,
        "iso": float(frame["iso"]) if frame["iso"] else None,
        "gps_present": False,
        "flash_fired": False,
    }
    if frame["time_ratio"]:
        seconds = float(Fraction(frame["time_ratio"]))
        exact, basis = snap_exposure_time(seconds)
        row |= {"exposure_time_s": seconds, "exposure_time_ratio": frame["time_ratio"]}
        row |= {"exposure_time_exact_s": exact, "exposure_time_basis": basis}
    if frame["f_number"]:
        exact, basis = snap_f_number(float(frame["f_number"]))
        row |= {"f_number": float(frame["f_number"]), "f_number_exact": exact, "f_number_basis": basis}
    values = (row.get("f_number_exact"), row.get("exposure_time_exact_s"), row["iso"])
    if all(values):
        row["ev100"] = float(ev100(*values))
    return row


def _word(words: tuple[str, ...], code: int | None) -> str | None:
    return words[code] if code is not None and code < len(words) else None


def series_figures(path: Path = FILE) -> dict[str, float] | None:
    """Series recognised whole, ordinary sequences called sets, findings when all is declared bare."""
    if not path.is_file():
        return None
    data = json.loads(path.read_text(encoding="utf-8"))
    figures: dict[str, float] = {"series": 0, "series whole": 0, "series frames": 0, "act": 0, "look": 0}
    named: set[str] = set()
    for number, series in enumerate(data["series"]):
        found = _run(series["frames"], f"s{number}", number)
        names = found.frames["bracket"]
        figures["series"] += 1
        figures["series frames"] += len(names)
        figures["series whole"] += bool(names.notna().all() and names.nunique() == 1)
        for finding in found.findings:
            if finding.level in ("act", "look"):
                figures[finding.level] += 1
                figures[f"{finding.level} {finding.check}"] = (
                    figures.get(f"{finding.level} {finding.check}", 0) + 1
                )
                named |= set(finding.frames) if finding.level == "act" else set()
    figures["frames in an act finding"] = len(named)
    called = Counter(_called(s["frames"], n) for n, s in enumerate(data["ordinary"]))
    figures |= {"ordinary": len(data["ordinary"]), "ordinary called a set": called[True]}
    return figures


def _run(frames: list[dict[str, Any]], folder: str, days: int) -> Any:
    rows = rows_of(frames, folder, days)
    first, last = (row["frame"].rsplit("/", 1)[-1] for row in (rows[0], rows[-1]))
    text = f'[[worn]]\nfiles = ["{first}", "{last}"]\nbare = true\n'
    return audited(rows, KIT, {folder: text}, np.full(len(rows), np.nan))


def _called(frames: list[dict[str, Any]], number: int) -> bool:
    return bool(_run(frames, f"o{number}", number).frames["bracket"].notna().any())
