"""How many real changes of filters are told without a kit, and how many that are told are none.

python -m benchmarks.world.changes [tune|unseen] [TRIPS]
"""

from __future__ import annotations

import sys

import numpy as np

from audit.exposure.changes import exposure_changes
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.exposure.sun import add_sky
from audit.kit.kit import Kit
from audit.table.columns import filled
from benchmarks.world.figures import HALVES, nth
from benchmarks.world.run import table_of

REAL_STOPS, NEAR_STOPS, NONE_STOPS = 3.0, 1.0, 0.5
"""A change by a neutral that should be told; told within so much; and as good as no neutral's."""


def main() -> None:
    """Prints one line a figure."""
    half, trips = [*sys.argv[1:], *("tune", "20")[len(sys.argv) - 1 :]][:2]
    told = near = none = real = found = 0
    for seed in range(HALVES[half], HALVES[half] + int(trips)):
        world = nth(seed)
        frames = add_sky(add_setups(add_scenes(table_of(world)[0], Kit())), Kit(), None)
        frames = filled(frames, {"picture_stops": world.picture_stops})
        worn = world.truth.set_index("frame")["label_stops"].reindex(frames["frame"]).to_numpy(dtype=float)
        changes = exposure_changes(frames)
        true = np.array([worn[one.after] - worn[one.before] for one in changes])
        said = np.array([one.stops for one in changes])
        told, near = told + len(changes), near + int((np.abs(true - said) <= NEAR_STOPS).sum())
        none += int((np.abs(true) < NONE_STOPS).sum())
        order = frames.assign(worn=worn, row=range(len(frames))).sort_values(
            ["body", "captured_at", "counter"]
        )
        held = (order["setup"] == order["setup"].shift()) & order["setup"].notna()
        big = held & ((order["worn"] - order["worn"].shift()).abs() >= REAL_STOPS)
        real += int(big.sum())
        found += int(order.loc[big, "row"].isin([one.after for one in changes]).sum())
    print(f"real changes told: {found} of {real}")
    print(f"told: {told}, within a stop {near}, no neutral's {none}")


if __name__ == "__main__":
    main()
