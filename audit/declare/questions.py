"""What the photographer could settle: the few questions whose answers help most frames of the trip."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from audit.declare.draft import FolderDraft, Span

MOST_QUESTIONS = 5


@dataclass(frozen=True)
class Question:
    """A question; an answer is expected to settle `settles` frames over the whole trip.

    `rows` are those of the table that it asks for, `guess` is the likeliest answer, as `--say` takes it.
    """

    text: str
    settles: int
    rows: tuple[int, ...] = ()
    guess: str = ""


Like = tuple[tuple[str, ...], str | None]
"""The sets that a frame is undecided between, and its setup."""


def questions(drafts: Iterable[FolderDraft]) -> list[Question]:
    """At most a handful, those that settle most frames first.

    An answer anchors the light of its setups, and with it all frames there that are undecided between the
    same sets: these are counted, each for one question only.
    """
    spans = [span for folder in drafts for span in folder.spans if span.asked]
    open_frames = Counter(like for span in spans for like in _likes(span) if like[1] is not None)
    asked: list[Question] = []
    while spans and len(asked) < MOST_QUESTIONS:
        best = max(spans, key=lambda span: (_settles(span, open_frames), len(span.frames)))
        settles = _settles(best, open_frames)
        asked.append(Question(_words(best, settles), settles, best.rows, best.sets[0] or "none"))
        for like in _likes(best):
            open_frames.pop(like, None)
        spans = [span for span in spans if span is not best and _settles(span, open_frames)]
    return asked


def _settles(span: Span, open_frames: Counter[Like]) -> int:
    """Frames of its setups that are undecided in the same way, and its own that belong to no setup."""
    alone = sum(setup is None for setup in span.setups)
    return alone + sum(open_frames[like] for like in set(_likes(span)) if like[1] is not None)


def _likes(span: Span) -> list[Like]:
    return [(span.sets, setup) for setup in span.setups]


def _words(span: Span, settles: int) -> str:
    own = len(span.frames)
    more = f", and {settles - own} more like them" if settles > own else ""
    return f"{span.range} ({own} frame{'' if own == 1 else 's'}{more}): {span.question}?"
