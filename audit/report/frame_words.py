"""What stands beside a frame's picture: its cells of the table in words, "" where there is nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from audit.report.words import Stated, counted, known, number, seconds, span, stops, text, texts

SERIES = {
    "half": "exact halves of a stop",
    "apex": "from the APEX value",
    "kit": "by the kit",
}


def time(row: Mapping[str, Any]) -> str:
    """Start of the exposure with its zone, or that none was written."""
    if not known(row["captured_at"]):
        return "no time"
    at = pd.Timestamp(row["captured_at"])
    shown = at.strftime("%Y-%m-%d %H:%M:%S") + (
        f".{at.microsecond:06d}".rstrip("0") if at.microsecond else ""
    )
    if not known(row["utc_offset_min"]):
        return f"{shown}, no zone"
    offset = int(row["utc_offset_min"])
    hours, minutes = divmod(abs(offset), 60)
    return f"{shown} {'-' if offset < 0 else '+'}{hours:02d}:{minutes:02d}"


def camera(row: Mapping[str, Any], serials: bool) -> str:
    """Label and model of the body."""
    label = text(row["body"])
    parts = [f"body {label.removeprefix('body ')}" if label else "", text(row["model"])]
    return ", ".join([p for p in parts if p]) + _serial(row["body_serial"], serials) or "camera unknown"


def lens(row: Mapping[str, Any], serials: bool) -> str:
    """Lens and focal length."""
    parts = [text(row["lens"]) or text(row["lens_id"])]
    if known(row["focal_length_mm"]):
        parts.append(f"at {number(row['focal_length_mm'], 1)} mm")
    if known(row["focal_length_35mm"]) and row["focal_length_35mm"] != row["focal_length_mm"]:
        parts.append(f"({number(row['focal_length_35mm'], 0)} in 35 mm terms)")
    words = " ".join(p for p in parts if p) + _serial(row["lens_serial"], serials)
    return words or "lens unknown"


def _serial(value: Any, serials: bool) -> str:
    return f", serial {value}" if serials and known(value) else ""


def exposure(row: Mapping[str, Any]) -> str:
    """Exposure time, f-number, ISO speed and compensation as written."""
    parts = [
        seconds(row["exposure_time_s"]) if known(row["exposure_time_s"]) else "no exposure time",
        f"f/{number(row['f_number'], 1)}" if known(row["f_number"]) else "no f-number",
        f"ISO {number(row['iso'], 0)}" if known(row["iso"]) else "no ISO",
    ]
    bias = row["exposure_bias_stops"]
    if known(bias) and abs(bias) >= 0.05:
        parts.append(f"{'+' if bias > 0 else ''}{stops(bias)} set")
    return ", ".join(parts)


def reckoned(row: Mapping[str, Any]) -> str:
    """The values used in every sum, where they differ from those written, and what they give."""
    parts = []
    written, exact = row["exposure_time_s"], row["exposure_time_exact_s"]
    if known(exact) and not (known(written) and seconds(exact) == seconds(written)):
        parts.append(seconds(exact))
    if known(row["f_number_exact"]) and row["f_number_exact"] != row["f_number"]:
        parts.append(f"f/{number(row['f_number_exact'])}")
    bases = dict.fromkeys(text(row[name]) for name in ("exposure_time_basis", "f_number_basis"))
    why = [SERIES[b] for b in bases if b in SERIES]
    words = f"reckoned as {', '.join(parts)}" + (f" ({', '.join(why)})" if why else "") if parts else ""
    ev = f"EV100 {number(row['ev100'], 1)}" if known(row["ev100"]) else ""
    return "; ".join(p for p in (words, ev) if p)


def worn(row: Mapping[str, Any]) -> str:
    """The rig in words, or what was said instead."""
    state = text(row["declaration"]) or "undeclared"
    if state == "worn":
        return text(row["rig_words"]) or "worn"
    if state == "bare":
        return text(row["rig_words"]) or "bare lens"
    return "not known, by declaration" if state == "unknown" else "undeclared"


def declared(row: Mapping[str, Any]) -> Stated:
    """Where it was declared, or why not, and whose word it is."""
    if text(row["declaration"]) in ("", "undeclared"):
        return Stated(text(row["undeclared_reason"]))
    return Stated(inside(row, text(row["declared_in"])), _word(row))


def inside(row: Mapping[str, Any], path: str) -> str:
    """The path without the frame's own folder, which stands above it in the report."""
    return path.removeprefix(f"{text(row['folder'])}/")


def _word(row: Mapping[str, Any]) -> str:
    return "estimated" if text(row["declaration_source"]) == "estimated" else "declared"


def total(row: Mapping[str, Any]) -> Stated:
    """The sum of stops."""
    words = text(row["stops_words"])
    if words or not known(row["even_stops_min"]):
        return Stated(words, _word(row) if words else "")
    high = row["even_stops_max"] if known(row["even_stops_max"]) else row["even_stops_min"]
    return Stated(stops(row["even_stops_min"], high), _word(row))


def light(row: Mapping[str, Any]) -> str:
    """The light that frame and declared filters imply, against its scene."""
    if not known(row["light_min_ev100"]) or not known(row["light_residual_stops"]):
        return ""
    implied = f"EV100 {span(row['light_min_ev100'], row['light_max_ev100'])}"
    if row["light_residual_stops"] == 0:
        return f"{implied}, as its scene"
    off = stops(abs(row["light_residual_stops"]))
    side = "above" if row["light_residual_stops"] > 0 else "below"
    explained = (
        f" ({number(row['light_tolerance_stops'], 1)} can be explained)"
        if known(row["light_tolerance_stops"])
        else ""
    )
    return f"{implied}, {off} {side} its scene{explained}"


def sequence(row: Mapping[str, Any]) -> str:
    """The sequence a frame belongs to, with the evidence."""
    kind = text(row["sequence"])
    return f"{kind}: {text(row['sequence_words'])}" if kind and text(row["sequence_words"]) else kind


def estimate(row: Mapping[str, Any]) -> Stated:
    """What the exposures say was on, where the photographer said nothing."""
    silent = (
        text(row["declaration"]) in ("undeclared", "unknown")
        or text(row["declaration_source"]) == "estimated"
    )
    if not silent or not known(row["estimated_class"]) or not known(row["estimated_probability"]):
        return Stated("")
    sure = f"estimated, {text(row['estimated_sure'])} ({100 * float(row['estimated_probability']):.0f} %)"
    return Stated(f"{text(row['estimated_class'])}: {text(row['estimated_words'])}", sure)


def notes(row: Mapping[str, Any]) -> tuple[str, ...]:
    """What is worth knowing of the values and files."""
    notes = [*texts(row["notes"]), text(row["sensor_note"]), _strange_lens(row)]
    if texts(row["copies"]):
        notes.append(
            f"{counted(len(texts(row['copies'])), 'copy', 'copies')}: {', '.join(texts(row['copies']))}"
        )
    if known(row["gps_present"]) and row["gps_present"]:
        notes.append("the file holds a position; it is not shown here")
    return tuple(n for n in notes if n)


def _strange_lens(row: Mapping[str, Any]) -> str:
    """Why the kit's lens data was not used, where something was worn on a lens that the kit does not know."""
    asked = text(row["declaration"]) == "worn" and known(row["model"])
    if not asked or known(row["lens_id"]) or not known(row["lens_source"]):
        return ""
    return f"lens not found in the kit: {row['lens_source']}"
