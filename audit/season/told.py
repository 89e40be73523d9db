"""The answers in words: for each question its rows, for the page and for the terminal alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from audit.message.figures import number, plus_minus
from audit.message.text import day, joined, marked, plural, say
from audit.season.cut import Pair
from audit.season.drift import LEAST, Drift
from audit.season.interval import Share
from audit.season.lost import ANY, CAUSES, Lost
from audit.season.season import Season
from audit.season.worn import FilterUse, RigUse

OPEN = 20
"""Rows of a table that stand open on the page."""


@dataclass(frozen=True)
class Cell:
    """One cell of a table; `own` are the photographer's own words, which no language changes."""

    text: str
    own: bool = False


@dataclass(frozen=True)
class Table:
    """The answer to one question: title, how sure it is, names of the columns, rows; why there are none."""

    id: str
    title: str
    sure: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    empty: str

    @property
    def first(self) -> tuple[tuple[Cell, ...], ...]:
        """The rows that stand open on the page."""
        return self.rows[:OPEN]

    @property
    def rest(self) -> tuple[tuple[Cell, ...], ...]:
        """Those that a reader has to unfold."""
        return self.rows[OPEN:]


def tables(found: Season) -> tuple[Table, ...]:
    """The five questions in the order of the page."""
    return (_filters(found), _pairs(found.pairs), _drifts(found.drifts), _rigs(found.rigs), _lost(found.lost))


def summary(found: Season) -> tuple[str, ...]:
    """What the season rests on, one sentence each."""
    lines = [
        plural(found.archives, "{n} archive.", "{n} archives."),
        plural(found.frames, "{n} frame.", "{n} frames."),
    ]
    if found.first:
        lines.append(say("From {first} to {last}.", first=_day(found.first), last=_day(found.last)))
    if found.repeats:
        lines.append(
            plural(
                found.repeats,
                "{n} frame lies in a second archive with the same bytes and is counted once.",
                "{n} frames lie in a second archive with the same bytes and are counted once.",
            )
        )
    if found.undeclared:
        lines.append(
            plural(
                found.undeclared,
                "Of {n} frame it is not declared what was on.",
                "Of {n} frames it is not declared what was on.",
            )
        )
    return (*lines, *_gaps(found))


def _gaps(found: Season) -> Iterable[str]:
    """What could not be read, or was not known yet when an archive was written."""
    skipped = sum(one.skipped for one in found.problems)
    if skipped:
        yield plural(
            skipped,
            "{n} archive could not be read and is left out.",
            "{n} archives could not be read and are left out.",
        )
    for column, count in found.missing.items():
        yield plural(
            count,
            "{n} archive is of a version that had no {column_name}: not known there.",
            "{n} archives are of a version that had no {column_name}: not known there.",
            column_name=column,
        )


def percent(part: float) -> str:
    """A fraction as a percentage without its sign: 0.02, 6.1, 31."""
    digits = 0 if part >= 0.0995 else 1 if part >= 0.0095 else 2
    return number(100 * part, digits)


def share_words(found: Share) -> str:
    """How many of how many, and the 95 % range of the share."""
    if not found.of:
        return marked("none of 0")
    counts = {"count": _whole(found.count), "all": _whole(found.of)}
    if not found.count:
        return say("none of {all} (at most {high} %)", all=counts["all"], high=percent(found.high))
    if found.count == found.of:
        return say("{count} of {all} (at least {low} %)", low=percent(found.low), **counts)
    return say(
        "{count} of {all}: {share} % ({low} to {high})",
        share=percent(found.share),
        low=percent(found.low),
        high=percent(found.high),
        **counts,
    )


def _whole(count: int) -> str:
    return f"{count:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def _filters(found: Season) -> Table:
    return Table(
        "filters",
        marked("Filters carried and worn"),
        joined(
            [
                marked("Declared: what the archives' kits name, and what was declared as worn."),
                plural(found.kits, "{n} archive has a kit.", "{n} archives have a kit."),
            ],
            " ",
        ),
        (marked("Filter"), marked("Worn on trips that carried it"), marked("Frames"), marked("How sure")),
        tuple(_filter(one) for one in found.filters),
        marked("No archive holds a kit, and no frame is declared as worn with a filter."),
    )


def _filter(one: FilterUse) -> tuple[Cell, ...]:
    trips = share_words(one.worn)
    if not one.known:
        trips = plural(one.worn.of, "{n} trip; no kit names it", "{n} trips; no kit names it")
    elif not one.frames:
        trips = say("carried, never declared as worn: {share}", share=trips)
    sure = marked("declared")
    if one.estimated:
        sure = plural(one.estimated, "declared; {n} frame estimated", "declared; {n} frames estimated")
    return Cell(one.filter, own=True), Cell(trips), Cell(_whole(one.frames)), Cell(sure)


def _pairs(found: tuple[Pair, ...]) -> Table:
    return Table(
        "cuts",
        marked("Rings and holders that cut, by lens"),
        marked(
            "Share of the frames with a verdict that lose half a stop or more in a corner even at the best "
            "end of the band. Frames of one tripod position are alike, and count as one for the range."
        ),
        (marked("Ring and holder"), marked("Lens"), marked("Cut"), marked("Undecided"), marked("How sure")),
        tuple(_pair(one) for one in found),
        marked("No frame with a ring or holder has a verdict on its corners."),
    )


def _pair(one: Pair) -> tuple[Cell, ...]:
    sure = marked("predicted")
    if one.measured:
        sure = plural(one.measured, "predicted; {n} seen in a picture", "predicted; {n} seen in pictures")
    if one.estimated:
        more = plural(one.estimated, "{n} declaration estimated", "{n} declarations estimated")
        sure = joined([sure, more], "; ")
    lens = Cell(one.lens, own=True) if one.lens else Cell(marked("no name in the files"))
    return Cell(one.mount), lens, Cell(share_words(one.cut)), Cell(_whole(one.undecided)), Cell(sure)


def _drifts(found: tuple[Drift, ...]) -> Table:
    return Table(
        "drift",
        marked("Measured strength over the years"),
        marked(
            "Measured in the pictures of each trip, with 95 % ranges; a drift is told where it is larger "
            "than its own range. One filter in twenty would seem to drift by chance."
        ),
        (marked("Filter"), marked("Measured"), marked("Strength, stops"), marked("Change a year, stops")),
        tuple(_drift(one) for one in found),
        marked("not measurable: in no archive a filter was measured"),
    )


def _drift(one: Drift) -> tuple[Cell, ...]:
    when = _when([m.day for m in one.measured])
    if one.trend is None:
        strength = say(
            "{low} to {high}",
            low=number(min(m.stops for m in one.measured)),
            high=number(max(m.stops for m in one.measured)),
        )
        if len(one.measured) == 1:
            strength = plus_minus(one.measured[0].stops, one.measured[0].err_stops, 2)
        return Cell(one.filter, own=True), Cell(when), Cell(strength), Cell(_why_no_drift(one))
    change = plus_minus(one.trend.slope, one.trend.slope_err, 2)
    told = say("{change}: drifts", change=change)
    if one.code != "drifts":
        told = say("{change}: no drift seen", change=change)
    mean = plus_minus(one.trend.mean, one.trend.mean_err, 2)
    return Cell(one.filter, own=True), Cell(when), Cell(mean), Cell(told)


def _when(days: list[str]) -> str:
    known = sorted(one for one in days if one)
    times = plural(len(days), "on {n} trip", "on {n} trips")
    if not known:
        return times
    if known[0] == known[-1]:
        return say("{times}, {day}", times=times, day=_day(known[0]))
    return say("{times}, {first} to {last}", times=times, first=_day(known[0]), last=_day(known[-1]))


def _day(iso: str) -> str:
    return day(date.fromisoformat(iso))


def _why_no_drift(one: Drift) -> str:
    if one.code == "few":
        return say("not measurable: it takes {least} trips", least=LEAST)
    if one.code == "timeless":
        return marked("not measurable: too few of them have a time")
    return marked("not measurable: all within three months")


def _rigs(found: tuple[RigUse, ...]) -> Table:
    return Table(
        "focals",
        marked("Most used focal lengths by rig"),
        marked(
            "As written in EXIF, to the whole mm. For the range, frames of one tripod position are one "
            "choice."
        ),
        (marked("Rig"), marked("Most used"), marked("Frames")),
        tuple(_rig(one) for one in found),
        marked("No frame with a known rig has a focal length."),
    )


def _rig(one: RigUse) -> tuple[Cell, ...]:
    focals = joined([_focal(each.focal_mm, each.share) for each in one.focals], "; ")
    return Cell(one.words), Cell(focals), Cell(_whole(one.frames))


def _focal(focal_mm: int, found: Share) -> str:
    values = {"share": percent(found.share), "low": percent(found.low), "high": percent(found.high)}
    return say("{focal} mm {share} % ({low} to {high})", focal=focal_mm, **values)


def _lost(found: tuple[Lost, ...]) -> Table:
    met = {one.cause for one in found if one.lost.count or one.doubtful}
    causes = [cause for cause in CAUSES if cause in met]
    years = list(dict.fromkeys(one.year for one in found))
    by_place = {(one.year, one.cause): one for one in found}
    return Table(
        "lost",
        marked("Frames lost, by cause and year"),
        marked(
            "Frames of which a check says that the picture is spoilt, and those it is in doubt about. Where "
            "they were taken plays no part. A frame lost by two causes stands at both."
        ),
        (marked("Year"), marked("Any of them"), *(joined([*CAUSES[cause]], ": ") for cause in causes)),
        tuple(
            (Cell(_year(year)), *(Cell(_lost_words(by_place[year, cause])) for cause in (ANY, *causes)))
            for year in years
        ),
        marked("No frame."),
    )


def _year(year: int | None) -> str:
    return marked("all years") if year == 0 else marked("no time") if year is None else str(year)


def _lost_words(one: Lost) -> str:
    doubt = plural(one.doubtful, "{n} in doubt", "{n} in doubt") if one.doubtful else ""
    return joined([share_words(one.lost), doubt], "; ")
