"""What stands beside a frame's picture: its cells of the table in words, "" where there is nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from audit.message.figures import number
from audit.message.text import day, joined, marked, plural, say
from audit.report.words import Stated, by_cells, known, seconds, span, stops, text, texts

SERIES = {
    "half": marked("exact halves of a stop"),
    "apex": marked("from the APEX value"),
    "kit": marked("by the kit"),
}


def time(row: Mapping[str, Any]) -> str:
    """Start of the exposure with its zone, or that none was written."""
    if not known(row["captured_at"]):
        return marked("no time")
    at = pd.Timestamp(row["captured_at"])
    clock = at.strftime("%H:%M:%S") + (f".{at.microsecond:06d}".rstrip("0") if at.microsecond else "")
    if not known(row["utc_offset_min"]):
        return say("{day} {time}, no zone", day=day(at), time=clock)
    return joined([day(at), clock, _zone(row)], " ")


def clock(row: Mapping[str, Any]) -> str:
    """Time of day to the second, or that none was written."""
    at = row["captured_at"]
    return pd.Timestamp(at).strftime("%H:%M:%S") if known(at) else marked("no time")


def day_and_zone(row: Mapping[str, Any]) -> str:
    """The day of a frame's clock and its zone; "" without a time."""
    if not known(row["captured_at"]):
        return ""
    zone = _zone(row) if known(row["utc_offset_min"]) else marked("no zone")
    return joined([day(pd.Timestamp(row["captured_at"])), zone], ", ")


def _zone(row: Mapping[str, Any]) -> str:
    offset = int(row["utc_offset_min"])
    hours, minutes = divmod(abs(offset), 60)
    return f"{'-' if offset < 0 else '+'}{hours:02d}:{minutes:02d}"


def body_words(label: str) -> str:
    """'body A', whether the label is the kit's "A" or already says body; "" for none."""
    return say("body {name}", name=label.removeprefix("body ")) if label else ""


@by_cells("body", "model", "body_serial")
def camera(row: Mapping[str, Any], serials: bool) -> str:
    """Label and model of the body."""
    body, model = body_words(text(row["body"])), text(row["model"])
    words = say("{body}, {model_name}", body=body, model_name=model) if body and model else body or model
    return _with_serial(words or marked("camera unknown"), row["body_serial"], serials)


@by_cells("lens", "lens_id", "focal_length_mm", "focal_length_35mm", "lens_serial")
def lens(row: Mapping[str, Any], serials: bool) -> str:
    """Lens and focal length."""
    name = text(row["lens"]) or text(row["lens_id"])
    parts = []
    if known(row["focal_length_mm"]):
        parts.append(say("at {focal} mm", focal=number(row["focal_length_mm"], 1)))
    if known(row["focal_length_35mm"]) and row["focal_length_35mm"] != row["focal_length_mm"]:
        parts.append(say("({focal} in 35 mm terms)", focal=number(row["focal_length_35mm"], 0)))
    focal = joined(parts, " ")
    if name:
        message = marked("{lens_name} {focal}") if focal else marked("{lens_name}, no focal length")
        words = say(message, lens_name=name, focal=focal)
    else:
        words = focal
    return _with_serial(words or marked("lens unknown"), row["lens_serial"], serials)


def _with_serial(words: str, serial: Any, serials: bool) -> str:
    if not serials or not known(serial):
        return words
    return say("{what}, serial {serial_written}", what=words, serial_written=serial)


@by_cells("exposure_time_s", "f_number", "iso", "exposure_bias_stops")
def exposure(row: Mapping[str, Any]) -> str:
    """Exposure time, f-number, ISO speed and compensation as written."""
    aperture, iso, bias = row["f_number"], row["iso"], row["exposure_bias_stops"]
    parts = [
        seconds(row["exposure_time_s"]) if known(row["exposure_time_s"]) else marked("no exposure time"),
        say("f/{number}", number=number(aperture, 1)) if known(aperture) else marked("no f-number"),
        say("ISO {speed}", speed=number(iso, 0)) if known(iso) else marked("no ISO"),
    ]
    if known(bias) and abs(bias) >= 0.05:
        amount = stops(bias)
        parts.append(say("+{amount} set", amount=amount) if bias > 0 else say("{amount} set", amount=amount))
    return joined(parts, ", ")


@by_cells(
    "exposure_time_s",
    "exposure_time_exact_s",
    "f_number",
    "f_number_exact",
    "exposure_time_basis",
    "f_number_basis",
    "ev100",
)
def reckoned(row: Mapping[str, Any]) -> str:
    """The values used in every sum, where they differ from those written, and what they give."""
    parts = []
    written, exact = row["exposure_time_s"], row["exposure_time_exact_s"]
    if known(exact) and not (known(written) and seconds(exact) == seconds(written)):
        parts.append(seconds(exact))
    if known(row["f_number_exact"]) and row["f_number_exact"] != row["f_number"]:
        parts.append(say("f/{number}", number=number(row["f_number_exact"])))
    bases = dict.fromkeys(text(row[name]) for name in ("exposure_time_basis", "f_number_basis"))
    why, values = joined([SERIES.get(b, "") for b in bases], ", "), joined(parts, ", ")
    words = say("counted as {values}", values=values) if values else ""
    if values and why:
        words = say("counted as {values} ({why})", values=values, why=why)
    ev = say("EV100 {light}", light=number(row["ev100"], 1)) if known(row["ev100"]) else ""
    return joined([words, ev], "; ")


def worn(row: Mapping[str, Any]) -> str:
    """The rig in words, or what was said instead."""
    state = text(row["declaration"])
    if state == "worn":
        return text(row["rig_words"]) or marked("worn")
    if state == "bare":
        return text(row["rig_words"]) or marked("bare lens")
    if state == "no-neutral":
        return text(row["rig_words"])
    return marked("not known, by declaration") if state == "unknown" else marked("undeclared")


def declared(row: Mapping[str, Any]) -> Stated:
    """Where it was declared and whose word it is; or why not, and then nobody's."""
    if text(row["declaration"]) in ("", "undeclared"):
        return Stated(text(row["undeclared_reason"]))
    return Stated(text(row["declared_in"]), _word(row))


def _word(row: Mapping[str, Any]) -> str:
    drafted = text(row["declaration_source"]) == "estimated"
    return marked("estimated") if drafted else marked("declared")


def total(row: Mapping[str, Any]) -> Stated:
    """The sum of stops."""
    words = text(row["stops_words"])
    if words or not known(row["even_stops_min"]):
        return Stated(words, _word(row) if words else "")
    high = row["even_stops_max"] if known(row["even_stops_max"]) else row["even_stops_min"]
    return Stated(stops(row["even_stops_min"], high), _word(row))


ABOVE = marked("EV100 {light}, {amount} above its scene")
BELOW = marked("EV100 {light}, {amount} below its scene")
ABOVE_TOLERANCE = marked("EV100 {light}, {amount} above its scene (up to {explained} is normal)")
BELOW_TOLERANCE = marked("EV100 {light}, {amount} below its scene (up to {explained} is normal)")


@by_cells("light_residual_stops", "light_tolerance_stops", "light_min_ev100", "light_max_ev100")
def light(row: Mapping[str, Any]) -> str:
    """The light that frame and declared filters imply, against its scene."""
    residual, tolerance = row["light_residual_stops"], row["light_tolerance_stops"]
    if not known(row["light_min_ev100"]) or not known(residual):
        return ""
    implied = span(row["light_min_ev100"], row["light_max_ev100"])
    if residual == 0:
        return say("EV100 {light}, as its scene", light=implied)
    off = stops(abs(residual))
    if not known(tolerance):
        return say(ABOVE if residual > 0 else BELOW, light=implied, amount=off)
    message = ABOVE_TOLERANCE if residual > 0 else BELOW_TOLERANCE
    return say(message, light=implied, amount=off, explained=number(tolerance, 1))


def sequence(row: Mapping[str, Any]) -> str:
    """The sequence a frame belongs to, with the evidence."""
    kind, evidence = text(row["sequence"]), text(row["sequence_words"])
    return say("{kind}: {evidence}", kind=kind, evidence=evidence) if kind and evidence else kind


def estimate(row: Mapping[str, Any]) -> Stated:
    """What the exposures say was on, where the photographer said nothing."""
    silent = (
        text(row["declaration"]) in ("undeclared", "unknown")
        or text(row["declaration_source"]) == "estimated"
    )
    if not silent or not known(row["estimated_class"]) or not known(row["estimated_probability"]):
        return Stated("")
    chance = 100 * float(row["estimated_probability"])
    sure = say("estimated, {sure} ({chance:.0f} %)", sure=text(row["estimated_sure"]), chance=chance)
    found = {"filters": text(row["estimated_class"]), "evidence": text(row["estimated_words"])}
    return Stated(say("{filters}: {evidence}", **found), sure)


def notes(row: Mapping[str, Any]) -> tuple[str, ...]:
    """What is worth knowing of the values and files."""
    notes = [*texts(row["notes"]), text(row["sensor_note"]), _strange_lens(row)]
    if copies := texts(row["copies"]):
        written = ", ".join(copies)
        notes.append(
            plural(len(copies), "{n} copy: {copies_path}", "{n} copies: {copies_path}", copies_path=written)
        )
    if known(row["gps_present"]) and row["gps_present"]:
        notes.append(marked("the file holds a position; it is not shown here"))
    return tuple(n for n in notes if n)


def _strange_lens(row: Mapping[str, Any]) -> str:
    """Why the kit's lens data was not used, where something was worn on a lens that the kit does not know."""
    asked = text(row["declaration"]) == "worn" and known(row["model"])
    if not asked or known(row["lens_id"]) or not known(row["lens_source"]):
        return ""
    return say("lens not found in the kit: {reason}", reason=row["lens_source"])
