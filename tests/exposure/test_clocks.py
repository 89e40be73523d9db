"""Clocks of two bodies that differ, in trips of the second world (docs/world.md has the figures)."""

from __future__ import annotations

import numpy as np
import pytest

from audit.exposure import clock_pair
from audit.exposure.clocks import apart
from benchmarks.world.clocks import clock_trip, outcome, table_of


@pytest.mark.parametrize("seed", [10_006, 10_013, 10_031])
def test_what_can_be_told_is_proposed(seed: int) -> None:
    trip = clock_trip(seed)
    assert [outcome(trip, told) for told in apart(table_of(trip))] == ["right"]


@pytest.mark.parametrize("seed", [10_000, 10_004, 10_008, 10_044, 10_056, 10_068])
def test_nothing_is_proposed_where_the_clocks_agree(seed: int) -> None:
    trip = clock_trip(seed)
    assert trip.size == "none"
    assert {outcome(trip, told) for told in apart(table_of(trip))} <= {"agree", "cannot be told"}


def test_where_all_speaks_against_every_shift_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock_pair, "_light", lambda _first, _other, tried: np.full(len(tried), -1e5))
    (told,) = apart(table_of(clock_trip(10_006)))
    assert (told.sure, told.proposed_s, told.err_s) == (False, None, clock_pair.FURTHEST_S)
