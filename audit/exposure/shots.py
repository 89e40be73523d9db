"""Frames in order as arrays, and how one follows the other: the ground that sequences are found on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from audit.message.figures import duration as duration
from audit.optics.arrays import Floats

Flags = NDArray[np.bool_]
Rows = NDArray[np.int64]

BULB_S, BULB_STOPS = 30.0, 0.1
"""Times above this are measured; those of one wish waver so much by the hand: common practice, no source."""


@dataclass(frozen=True)
class Shots:
    """Frames in order; NaN where nothing was written. `bracket` is -1 outside brackets; `setup` grows.

    `undecided` says that filters explain the bracket as well.
    """

    setup: Rows
    at_s: Floats
    time_s: Floats
    f_number: Floats
    iso: Floats
    ev: Floats
    distance_m: Floats
    bracket: Rows
    undecided: Flags
    upright: Flags
    manual: Flags


class Sequence(NamedTuple):
    """Frames that belong together: their kind, their places in the order, the evidence."""

    kind: str
    rows: Rows
    words: str


def runs(joins: Flags, least: int) -> Iterator[tuple[int, int]]:
    """(start, end) of the runs in which each place joins the one before, at least so many places long."""
    starts = np.flatnonzero(~joins)
    ends = np.append(starts[1:], len(joins))
    long = ends - starts >= least
    yield from zip(starts[long].tolist(), ends[long].tolist(), strict=True)


def before(values: Floats) -> Floats:
    """The value of the place before; NaN at the first."""
    return np.append(np.nan, values[:-1])


def same_exposure(shots: Shots) -> Flags:
    """Whether a frame has the setup and exposure of the one before; bulb times waver by the hand."""
    same = np.append(False, shots.setup[1:] == shots.setup[:-1])
    same &= alike(shots.f_number) & alike(shots.iso)
    ratio = shots.time_s / before(shots.time_s)
    bulb = (shots.time_s > BULB_S) & (np.abs(np.log2(ratio)) < BULB_STOPS)
    return same & ((ratio == 1.0) | bulb)


def pauses_s(shots: Shots) -> Floats:
    """From the end of the frame before to the start of this one (a stamp is the start or the end)."""
    time_s = np.nan_to_num(shots.time_s)
    return shots.at_s - before(shots.at_s) - np.fmax(before(time_s), time_s)


def alike(values: Floats) -> Flags:
    """Whether each value is that of the place before; nothing written is like nothing written."""
    return (values == before(values)) | (np.isnan(values) & np.isnan(before(values)))
