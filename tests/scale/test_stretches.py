"""Folders between which a camera went on are one trip; no scene, setup or run of estimates crosses two."""

from __future__ import annotations

from datetime import datetime, timedelta

import pandas as pd
from hypothesis import given
from hypothesis import strategies as some

from audit.exposure.observations import RUN_GAP_MIN
from audit.exposure.partitions import TOGETHER, partition_of
from audit.exposure.scenes import SCENE_GAP_MIN
from audit.exposure.setups import SETUP_GAP_MIN
from audit.jobs.audit import audit
from audit.scale.stretches import GAP_MIN, Stretch, stretches, together

START = datetime(2026, 5, 2, 6)


def at(hours: float, last: float = 0.0, camera: str = "1", clock: str = "local") -> Stretch:
    begins = START + timedelta(hours=hours)
    return Stretch(clock, ("tarn", camera), begins, begins + timedelta(hours=last))


def test_the_gap_is_longer_than_any_that_an_audit_bridges() -> None:
    assert max(SCENE_GAP_MIN, SETUP_GAP_MIN, RUN_GAP_MIN) < GAP_MIN


def test_a_camera_that_goes_on_makes_one_trip_of_two_folders() -> None:
    assert together({"100": [at(0, 1)], "101": [at(3.9)]}) == [["100", "101"]]
    assert together({"100": [at(0, 1)], "101": [at(4.1)]}) == [["100"], ["101"]]


def test_another_camera_or_another_clock_does_not() -> None:
    assert together({"a": [at(0)], "b": [at(0, camera="2")]}) == [["a"], ["b"]]
    assert together({"a": [at(0)], "b": [at(0, clock="UTC")]}) == [["a"], ["b"]]


def test_a_long_stretch_reaches_over_short_ones() -> None:
    of = {"all day": [at(0, 12)], "morning": [at(1, 0.5)], "evening": [at(11)], "next day": [at(30)]}
    assert together(of) == [["all day", "evening", "morning"], ["next day"]]


def test_a_folder_without_times_is_a_trip_of_its_own() -> None:
    assert together({"b": [], "a": [at(0)]}) == [["a"], ["b"]]


@given(
    some.dictionaries(
        some.sampled_from("abcdefgh"),
        some.lists(some.tuples(some.integers(0, 60), some.integers(0, 4))),
        max_size=8,
    )
)
def test_as_pairs_say(of: dict[str, list[tuple[int, int]]]) -> None:
    """Against the plain rule, pair by pair: what is near, directly or over others, is together."""
    told = {name: [at(hours, last) for hours, last in spans] for name, spans in of.items()}
    group = {name: {name} for name in told}
    for one in told:
        for other in told:
            near = any(
                a.begins - b.ends <= timedelta(minutes=GAP_MIN)
                and b.begins - a.ends <= timedelta(minutes=GAP_MIN)
                for a in told[one]
                for b in told[other]
            )
            if near and group[one] is not group[other]:
                group[one] |= group[other]
                for name in group[one]:
                    group[name] = group[one]
    assert {frozenset(one) for one in together(told)} == {frozenset(one) for one in group.values()}


def test_stretches_of_a_table(table) -> None:
    rows = [
        {"captured_at": "2026-05-02 10:00:00", "utc_offset_min": 120.0, "body_serial": "7"},
        {"captured_at": "2026-05-02 12:30:00", "utc_offset_min": 120.0, "body_serial": "7"},
        {"captured_at": "2026-05-02 16:00:00", "utc_offset_min": None, "body_serial": "7"},
        {"captured_at": "2026-05-02 16:00:00", "utc_offset_min": None, "body_serial": None},
        {"captured_at": None},
    ]
    found = stretches(table(rows))
    local = [(s.camera[1], s.begins.hour, s.ends.hour) for s in found if s.clock == "local"]
    assert local == [("", 16, 16), ("7", 10, 12), ("7", 16, 16)]
    assert [(s.begins.hour, s.ends.hour) for s in found if s.clock == "UTC"] == [(8, 10)]


def test_nothing_of_the_demo_trip_crosses_two_of_its_trips(skarven) -> None:
    frames = audit(skarven / "trip", pixels="off").frames
    top = frames["folder"].str.partition("/")[0]
    trips = together({name: stretches(part) for name, part in frames.groupby(top)})
    place = top.map({folder: number for number, folders in enumerate(trips) for folder in folders})
    for name in TOGETHER:
        assert (place.groupby(frames[name]).nunique() <= 1).all()
    assert pd.crosstab(partition_of(frames), place).gt(0).sum(axis=1).max() == 1
