"""The section on method: the checks as they ran, and how the pixels were got."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from audit.finding import CheckRun
from audit.message.text import marked, plural, say
from audit.pixels.evidence import CameraCurve
from audit.report.words import known, text
from audit.result import Result

MODES = {
    "preview": marked(
        "Pixels were taken from the previews embedded in the files; no file was decoded whole."
    ),
    "full": marked("Pixels were taken from large enough previews in the files, else from the decoded file."),
    "off": marked(
        "Pixels were not looked at (--pixels off): everything below is computed from EXIF and kit."
    ),
}


@dataclass(frozen=True)
class CheckView:
    """A check as it stands in the section on method."""

    anchor: str
    title: str
    why: str
    threshold: str
    source: str
    outcome: str


@dataclass(frozen=True)
class PixelMethod:
    """How pixels were got; `sources` and `curves` are (name, words), empty where none were looked at."""

    mode: str
    sources: tuple[tuple[str, str], ...]
    curves: tuple[tuple[str, str], ...]

    @property
    def looked(self) -> bool:
        """Whether there is anything to tell of pixels."""
        return bool(self.sources)


def checks(result: Result) -> tuple[CheckView, ...]:
    """Every check with its threshold, source and outcome."""
    return tuple(
        CheckView(
            f"check-{run.info.id}",
            run.info.title,
            run.info.why,
            run.info.threshold,
            run.info.source,
            _outcome(run),
        )
        for run in result.checks
    )


def pixel_method(result: Result) -> PixelMethod:
    """Mode, frames by source (the most first), and the tone curve of each camera model."""
    frames = result.frames
    got = Counter(text(cell) for cell in frames["pixel_kind"] if known(cell))
    without = Counter(text(cell) for cell in frames["pixel_why"] if known(cell))
    missing = Counter({say("not measurable: {why}", why=why): n for why, n in without.items()})
    return PixelMethod(
        mode=MODES.get(result.pixels, result.pixels),
        sources=tuple((name, _frames(n)) for part in (got, missing) for name, n in _ordered(part)),
        curves=tuple((curve.model, _curve(curve)) for curve in result.curves),
    )


def _outcome(run: CheckRun) -> str:
    if run.status != "ran":
        return run.outcome
    return say("ran: {findings}", findings=plural(run.count, "{n} finding", "{n} findings"))


def _frames(count: int) -> str:
    return plural(count, "{n} frame", "{n} frames")


def _ordered(counts: Counter[str]) -> list[tuple[str, int]]:
    return sorted(counts.items(), key=lambda item: (-item[1], item[0]))


def _curve(curve: CameraCurve) -> str:
    if curve.doubt:
        words = marked("general, for differences up to {most:g} stop only: {doubt}")
        return say(words, most=curve.farthest_stops, doubt=curve.doubt)
    if not curve.own:
        return marked("general")
    brackets = plural(curve.brackets, "{n} bracket", "{n} brackets")
    if curve.residual_stops is None:
        return say("fitted on {brackets} of this trip", brackets=brackets)
    words = marked("fitted on {brackets} of this trip, {residual:.2f} stop left over")
    return say(words, brackets=brackets, residual=curve.residual_stops)
