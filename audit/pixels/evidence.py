"""What a report shows of measured pixels: maps of pairs, strengths of filters, curves of cameras."""

from __future__ import annotations

from dataclasses import dataclass

from audit.optics.arrays import Floats


@dataclass(frozen=True)
class Evidence:
    """A frame held against one of the same scene without filters.

    `darker` says in stops how much darker each part of the frame is than the middle of the picture makes one
    expect; NaN where not known. Shape (rows, columns), about 24 x 36, row 0 as the picture is stored.
    `corners` are the losses whose mean is the frame's `shown_loss_stops`: top left, top right, bottom left,
    bottom right, as stored, NaN where not known; empty where no corner loss was measured.
    """

    frame: str
    against: str
    darker: Floats
    corners: tuple[float, ...] = ()


@dataclass(frozen=True)
class FilterShown:
    """One filter over the whole trip: stops as the kit declares them, and as the pictures show them.

    `stops` and its 95 % ranges are NaN where `why` says why nothing could be measured. `held_err_stops` is
    the range if the light held. `pairs` are the frames measured, in so many `scenes`, `spread_stops` the
    standard deviation among them, `range_stops` the least and the most (a polariser's loss changes as it is
    turned). `cast_uv` is the median colour cast in u'v' with words, NaN where `cast_why` says why.
    """

    filter: str
    declared_stops: tuple[float, float]
    stops: float
    err_stops: float
    held_err_stops: float
    spread_stops: float
    range_stops: tuple[float, float]
    pairs: int
    scenes: int
    frames: tuple[str, ...]
    why: str
    cast_uv: float
    cast_err_uv: float
    cast_mired: float
    cast_words: str
    cast_why: str


@dataclass(frozen=True)
class CameraCurve:
    """The tone curve used for one camera model: general, or fitted on the dump's own brackets.

    It tells pictures up to `farthest_stops` apart; `doubt` says why the general one may be far off for some.
    """

    model: str
    own: bool
    residual_stops: float | None
    brackets: int
    farthest_stops: float = 0.0
    doubt: str = ""
