"""What the photographer could settle: the few questions whose answers help most frames of the trip."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from audit.declare.draft import FolderDraft, Span

MOST_QUESTIONS = 5


@dataclass(frozen=True)
class Question:
    """A question; an answer is expected to settle so many frames over the whole trip (`settles`).

    `rows` are those of the table that it asks for, `guess` is the likeliest answer, as `--say` takes it.
    """

    text: str
    settles: float
    rows: tuple[int, ...] = ()
    guess: str = ""


Like = tuple[tuple[str, ...], str]
"""The sets that a frame is undecided between, and its setup."""


def questions(drafts: Iterable[FolderDraft]) -> list[Question]:
    """At most a handful, those that settle most frames first.

    An answer anchors the light of its setups, and with it all frames there that are undecided between the
    same sets: these are counted, each as far as it is open and for one question only.
    """
    spans = [span for folder in drafts for span in folder.spans if span.asked]
    open_frames: dict[Like, list[float]] = {}
    for span in spans:
        for like, doubt in _likes(span):
            open_frames.setdefault(like, []).append(doubt)
    asked: list[Question] = []
    while spans and len(asked) < MOST_QUESTIONS:
        found = {id(span): _settles(span, open_frames) for span in spans}
        best = max(spans, key=lambda span: (round(sum(found[id(span)]), 6), len(span.frames)))
        settles = found[id(best)]
        text = _words(best, len(settles))
        asked.append(Question(text, round(sum(settles), 1), best.rows, best.sets[0] or "none"))
        for like, _ in _likes(best):
            open_frames.pop(like, None)
        spans = [span for span in spans if span is not best and _settles(span, open_frames)]
    return asked


def _settles(span: Span, open_frames: dict[Like, list[float]]) -> list[float]:
    """How open the frames are that it settles: those of its setups that are undecided in the same way, and
    its own that belong to no setup."""
    alone = [doubt for setup, doubt in zip(span.setups, span.doubts, strict=True) if setup is None]
    likes = dict.fromkeys(like for like, _ in _likes(span))
    return alone + [doubt for like in likes for doubt in open_frames.get(like, ())]


def _likes(span: Span) -> list[tuple[Like, float]]:
    both = zip(span.setups, span.doubts, strict=True)
    return [((span.sets, setup), doubt) for setup, doubt in both if setup is not None]


def _words(span: Span, settled: int) -> str:
    own = len(span.frames)
    more = f", and {settled - own} more like them" if settled > own else ""
    return f"{span.range} ({own} frame{'' if own == 1 else 's'}{more}): {span.question}?"
