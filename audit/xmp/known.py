"""What is known of a frame, as the properties of its sidecar: from a row of the table and what was worn.

`OWN_PROPERTIES` is the list that docs/xmp.md shows; tests hold the two together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from math import isfinite, isinf
from typing import Any

from audit.declare.rig import WHOLLY_KNOWN, Rig
from audit.kit.kit import Filter, Kit, ScrewIn
from audit.message.shown import shown_line, writable
from audit.table.column import missing
from audit.xmp.names import DATE_CREATED, F_NUMBER
from audit.xmp.tree import Value

SCHEMA = "1"
PLACED = "Placed"

OWN_PROPERTIES = (
    ("Schema", "Integer", "", "version of this list: 1", ""),
    ("Declaration", "Text", "", "worn, bare, no-neutral or unknown", "declared or estimated"),
    ("DeclarationBy", "Text", "", "declared (by the photographer) or estimated", ""),
    ("WornWords", "Text", "", "all that was worn, in English words", "DeclarationBy"),
    ("Ring", "Text", "", "id of the ring in the kit", "DeclarationBy"),
    ("Holder", "Text", "", "id of the holder in the kit", "DeclarationBy"),
    ("SecondHolder", "Text", "", "id of a second holder before the first", "DeclarationBy"),
    ("Hood", "Text", "", "id of the hood", "DeclarationBy"),
    ("Filters", "Seq Text", "", "ids of the filters in the kit, back to front", "DeclarationBy"),
    ("FilterKinds", "Seq Text", "", "neutral, grad-hard, grad-soft, polariser or other", "declared"),
    ("FilterStopsMin", "Seq Real", "stop", "least loss of each filter", "FilterStopsBy"),
    ("FilterStopsMax", "Seq Real", "stop", "most loss of each filter", "FilterStopsBy"),
    ("FilterStopsBy", "Seq Text", "", "declared (the label), measured, or assumed (a polariser)", ""),
    ("StopsExpectedMin", "Real", "stop", "least loss of all filters over the whole frame", "DeclarationBy"),
    ("StopsExpectedMax", "Real", "stop", "most loss of all filters over the whole frame", "DeclarationBy"),
    ("GradStopsExpected", "Real", "stop", "loss of the grads where they are dense", "DeclarationBy"),
    ("EstimatedFilters", "Text", "", "filters it may have been; where no rig is declared", "estimated"),
    ("EstimatedStops", "Real", "stop", "loss of the neutrals by the exposures", "estimated"),
    ("EstimatedStopsError", "Real", "stop", "error of EstimatedStops", "estimated"),
    ("EstimatedSure", "Text", "", "sure, likely or unsure", "estimated"),
    ("CornerVerdict", "Text", "", "clear, at risk, cut, or not measurable", "CornerVerdictBy"),
    ("CornerVerdictBy", "Text", "", "predicted, measured, or predicted and measured", ""),
    ("CornerWhy", "Text", "", "the opening that limits, or why there is no verdict; English", ""),
    ("CornerLoss", "Real", "stop", "most lost on the picture's edge", "predicted"),
    ("CornerLossMin", "Real", "stop", "the same at the best end of the band", "predicted"),
    ("CornerLossMax", "Real", "stop", "the same at the worst end of the band", "predicted"),
    ("CornerBlack", "Boolean", "", "True: no light reaches a corner; stands for CornerLoss", "predicted"),
    ("ShownLoss", "Real", "stop", "loss in the corners, mean of four, as the picture shows", "measured"),
    ("ShownLossError", "Real", "stop", "95 % range of ShownLoss", "measured"),
    (
        "CleanCrop",
        "Text",
        "px",
        "x, y, width, height: largest crop without half a stop lost",
        "predicted",
    ),
    ("CleanCropShare", "Real", "fraction", "its area, of the whole picture", "predicted"),
    ("ClockTime", "Date", "", "time of capture as the camera's clock wrote it, without a zone", "as written"),
    ("ClockAhead", "Real", "s", "how far the clock is ahead of true time, by the kit", "declared"),
    ("CorrectedTime", "Date", "", "ClockTime less ClockAhead; only where that is not 0", "declared"),
    (PLACED, "Bag Text", "", "what was put into standard properties: name, blank, value", ""),
)
"""Name, XMP type, unit, meaning, how sure: a word, or the property that says it."""


@dataclass(frozen=True)
class Known:
    """`own` are the properties of our own namespace without `Placed`; the rest goes into standard ones.

    `keywords` into dc:subject, `description` into dc:description, `simple` are others by their name.
    """

    own: Mapping[str, Value] = field(default_factory=dict)
    keywords: tuple[str, ...] = ()
    description: str = ""
    simple: Mapping[str, str] = field(default_factory=dict)

    @property
    def worth_a_file(self) -> bool:
        """Whether it says more than the picture itself."""
        return bool(set(self.own) - {"Schema", "ClockTime"})


def known(row: Mapping[str, Any], rig: Rig | None, kit: Kit) -> Known:
    """What is known of the frame of this row of the whole table.

    Keywords and description are the photographer's word alone: neither can say that it is an estimate.
    """
    worn = rig if rig is not None and rig.state in WHOLLY_KNOWN else None
    if row["declaration_source"] != "photographer":
        worn = None
    own: dict[str, Value] = {
        **dict(_worn(row, rig, kit)),
        **({} if worn else dict(_estimate(row))),
        **dict(_corners(row)),
        **dict(_times(row)),
    }
    own = {"Schema": SCHEMA, **{name: value for name, value in own.items() if value}}
    return Known(
        own,
        tuple(dict.fromkeys(map(_clean, worn.filters))) if worn else (),
        _words(row["rig_words"]) if worn else "",
        dict(_simple(row)),
    )


def _worn(row: Mapping[str, Any], rig: Rig | None, kit: Kit) -> Iterator[tuple[str, Value]]:
    if rig is None:
        return
    yield "Declaration", rig.state
    yield "DeclarationBy", "declared" if row["declaration_source"] == "photographer" else "estimated"
    yield "WornWords", _words(row["rig_words"])
    for name, id in (("Ring", rig.ring), ("Holder", rig.holder), ("SecondHolder", rig.second_holder)):
        yield name, _clean(id)
    yield "Hood", _clean(rig.hood)
    yield "Filters", tuple(map(_clean, rig.filters))
    parts = [kit.filter(id) or kit.between(id) for id in rig.filters]
    filters = [part for part in parts if isinstance(part, Filter | ScrewIn)]
    if len(filters) == len(rig.filters):
        yield "FilterKinds", tuple(part.kind for part in filters)
        yield "FilterStopsMin", tuple(_real(part.loss_stops[0]) for part in filters)
        yield "FilterStopsMax", tuple(_real(part.loss_stops[1]) for part in filters)
        yield "FilterStopsBy", tuple(map(_stops_by, filters))
    for name, column in (
        ("StopsExpectedMin", "even_stops_min"),
        ("StopsExpectedMax", "even_stops_max"),
        ("GradStopsExpected", "grad_stops"),
    ):
        yield name, _real(row[column])


def _stops_by(part: Filter | ScrewIn) -> str:
    if part.measured_stops is not None:
        return "measured"
    given = part.stops is not None or part.density is not None or part.factor is not None
    return "declared" if given else "assumed"


def _estimate(row: Mapping[str, Any]) -> Iterator[tuple[str, Value]]:
    if not missing(row["estimated_sure"]):
        yield "EstimatedFilters", _words(row["estimated_class"])
        yield "EstimatedStops", _real(row["estimated_stops"])
        yield "EstimatedStopsError", _real(row["estimated_err_stops"])
        yield "EstimatedSure", _words(row["estimated_sure"])


def _corners(row: Mapping[str, Any]) -> Iterator[tuple[str, Value]]:
    for name, column in (
        ("CornerVerdict", "corner_verdict"),
        ("CornerVerdictBy", "corner_verdict_by"),
        ("CornerWhy", "corner_why"),
        ("CleanCrop", "clean_crop"),
    ):
        yield name, _words(row[column])
    for name, column in (
        ("CornerLoss", "corner_loss_stops"),
        ("CornerLossMin", "corner_loss_min_stops"),
        ("CornerLossMax", "corner_loss_max_stops"),
        ("ShownLoss", "shown_loss_stops"),
        ("ShownLossError", "shown_loss_err_stops"),
        ("CleanCropShare", "clean_crop_share"),
    ):
        yield name, _real(row[column])
    yield "CornerBlack", "True" if isinf(row["corner_loss_stops"]) else ""


def _times(row: Mapping[str, Any]) -> Iterator[tuple[str, Value]]:
    yield "ClockTime", _date(row["clock_at"])
    if _corrected(row):
        yield "ClockAhead", _real(row["clock_ahead_s"])
        yield "CorrectedTime", _date(row["captured_at"], row["utc_offset_min"])


def _simple(row: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """A corrected time is when the picture came to be; an f-number that no contacts told is the kit's."""
    if _corrected(row):
        yield DATE_CREATED, _date(row["captured_at"], row["utc_offset_min"])
    if row["f_number_basis"] in ("kit", "declared") and not missing(row["f_number"]):
        ratio = Fraction(row["f_number"]).limit_denominator(100)
        yield F_NUMBER, f"{ratio.numerator}/{ratio.denominator}"


def _corrected(row: Mapping[str, Any]) -> bool:
    ahead_s = row["clock_ahead_s"]
    return not missing(ahead_s) and ahead_s != 0 and not missing(row["captured_at"])


def _date(at: Any, offset_min: Any = None) -> str:
    """ISO 8601 as XMP has it; the zone only where it is known."""
    if missing(at) or not isinstance(at, datetime):
        return ""
    words = at.strftime("%Y-%m-%dT%H:%M:%S")
    words += f".{at.microsecond:06d}".rstrip("0") if at.microsecond else ""
    if missing(offset_min):
        return words
    hours, minutes = divmod(abs(int(offset_min)), 60)
    return f"{words}{'-' if offset_min < 0 else '+'}{hours:02d}:{minutes:02d}"


def _real(value: Any) -> str:
    """Thousandths are finer than anything here is known."""
    if missing(value) or not isfinite(value):
        return ""
    return f"{round(float(value), 3) + 0.0:.3f}".rstrip("0").rstrip(".")


def _words(value: Any) -> str:
    return _clean(value) if isinstance(value, str) else ""


def _clean(words: str) -> str:
    """As XML can hold it, and without blanks around it, which other programs take off."""
    return shown_line(writable(str(words))).strip()
