"""What each kind of evidence is worth: the estimate without it, on both test worlds, nothing declared.

    python -m benchmarks.world.ablation [--trips N] [--half tune|unseen]

Each kind is taken from what the estimate sees (the units of `observations.py`, or the table before them), so
that the estimate itself has no switch. The first simulator is `tests/exposure/trips.py`.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.exposure.certainty import LIKELY
from audit.exposure.estimate import told_of
from audit.exposure.observations import METERED, NOTHING, Units, units_of
from audit.exposure.scenes import add_scenes
from audit.exposure.states import possible_states
from audit.kit.kit import Kit
from benchmarks.world.figures import HALVES, NEAR_STOPS, nth
from benchmarks.world.run import table_of

sys.path.insert(0, str(Path(__file__).parents[2] / "tests" / "exposure"))

Floats = NDArray[np.float64]
FIRST_WORLD = {"tune": 20_000, "unseen": 10_000}
"""First seed of the first simulator's trips in each half."""


@dataclass(frozen=True)
class Case:
    """One trip as the estimate sees it, and what is true."""

    frames: pd.DataFrame
    kit: Kit
    sky: Floats | None
    pictures: Floats | None
    label_stops: Floats
    bare: NDArray[np.bool_]


def second_world(half: str, trips: int) -> Iterator[Case]:
    """Trips of benchmarks/world."""
    for seed in range(HALVES[half], HALVES[half] + trips):
        world = nth(seed)
        frames, kit = table_of(world)
        truth = world.truth.set_index("frame").loc[frames["frame"]]
        sky = frames["sky_ev100"].to_numpy(dtype=float)
        pictures = pd.Series(world.picture_stops, index=world.truth["frame"]).loc[frames["frame"]]
        bare = (truth["ids"].map(len) == 0).to_numpy()
        yield Case(frames, kit, sky, pictures.to_numpy(), truth["label_stops"].to_numpy(float), bare)


def first_world(half: str, trips: int) -> Iterator[Case]:
    """Trips of tests/exposure, what they declare left out."""
    from trips import trip  # type: ignore[import-not-found]

    for seed in range(FIRST_WORLD[half], FIRST_WORLD[half] + trips):
        one = trip(seed)
        frames = add_scenes(one.frames).assign(declaration="undeclared")
        bare = (one.truth["worn"].map(len) == 0).to_numpy()
        label = one.truth["neutral"].to_numpy(float)
        yield Case(frames, one.kit, np.asarray(one.sky[0], float), one.rendered_stops, label, bare)


def _all(case: Case) -> Units:
    return units_of(case.frames, case.sky, case.pictures)


def _without_metering(case: Case) -> Units:
    units = _all(case)
    return replace(
        units,
        kind=np.where(units.kind == METERED, NOTHING, units.kind),
        set_kind=np.where(units.set_kind == METERED, NOTHING, units.set_kind),
    )


def _without_memory(case: Case) -> Units:
    units = _all(case)
    whole = np.ones(len(units.value), dtype=bool)
    return replace(units, new_run=whole, new_setup=whole)


def _table(**columns: object) -> Callable[[Case], Units]:
    return lambda case: units_of(case.frames.assign(**columns), case.sky, case.pictures)


def _field(name: str, value: object) -> Callable[[Case], Units]:
    def units(case: Case) -> Units:
        found = _all(case)
        return replace(found, **{name: np.full_like(getattr(found, name), value)})

    return units


def _apart(case: Case) -> Units:
    """Every body a trip of its own, years from the others: nobody hears of anybody."""
    units = _all(case)
    return replace(units, second=units.second + 1e9 * units.body)


WITHOUT: dict[str, Callable[[Case], Units]] = {
    "nothing left out": _all,
    "the pictures' brightness": lambda case: units_of(case.frames, case.sky, None),
    "the exposure as set, where there is a picture": _field("set_kind", NOTHING),
    "exposures as metered": _without_metering,
    "ISO raised": _field("raised_stops", 0.0),
    "how it was shot (time, ISO, f-number, program, flash)": _field("exposure_s", 0.0),
    "flash": _field("flash", False),
    "sun and twilight": lambda case: units_of(case.frames, None, case.pictures),
    "sun, and the hour by the clock": lambda case: replace(
        units_of(case.frames, None, case.pictures), timed=np.zeros(len(_all(case).value), dtype=bool)
    ),
    "the other body": _apart,
    "compensation": _table(exposure_bias_stops=0.0),
    "sets": _table(bracket=None),
    "what the frames beside it had on": _without_memory,
}


def figures(cases: list[Case], without: Callable[[Case], Units]) -> dict[str, float]:
    """Share right, invented on bare frames, called likely or sure, and wrong of these; percent, per 1,000."""
    found = pd.concat([stated(case, without(case)) for case in cases])
    firm = found["chance"] >= LIKELY
    return {
        "right, %": 100 * found["right"].mean(),
        "invented, % of bare": 100 * found["invented"].sum() / max(found["bare"].sum(), 1),
        "likely or sure, %": 100 * firm.mean(),
        "of these wrong, per 1,000 frames": 1000 * (firm & ~found["right"]).mean(),
    }


def stated(case: Case, units: Units) -> pd.DataFrame:
    """By frame: the chance that is stated, whether it is right, bare, and given a filter though bare."""
    states = possible_states(case.kit)
    assert states is not None  # every kit of the worlds holds filters
    said, _ = told_of(units, states, case.kit)
    found = pd.DataFrame({"stops": said.stops, "chance": said.probability})
    found = found.iloc[units.row_unit].reset_index(drop=True)
    found["right"] = (found["stops"] - case.label_stops).abs() <= NEAR_STOPS
    found["bare"] = case.bare
    found["invented"] = found["bare"] & (found["stops"] > NEAR_STOPS)
    return found


def main() -> None:
    """Prints a table for each world."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.world.ablation", description=__doc__)
    parser.add_argument("--trips", type=int, default=40)
    parser.add_argument("--half", choices=list(HALVES), default="tune")
    asked = parser.parse_args()
    for name, world in (("second world", second_world), ("first world", first_world)):
        cases = list(world(asked.half, asked.trips))
        found = {what: figures(cases, without) for what, without in WITHOUT.items()}
        table = pd.DataFrame(found).T
        table.insert(1, "costs", table["right, %"].iloc[0] - table["right, %"])
        count = sum(len(case.frames) for case in cases)
        print(f"\n{name}, {asked.half}: {count} frames; without\n{table.round(1).to_string()}")


if __name__ == "__main__":
    main()
