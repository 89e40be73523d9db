"""The estimate that never looks at the declaration."""

import pandas as pd

from audit.exposure.estimate import add_estimate, add_independent
from audit.exposure.scenes import add_scenes
from audit.kit.kit import Kit

KIT = Kit.model_validate(
    {
        "ring": [{"id": "r77", "thread_mm": 77}],
        "holder": [{"id": "main", "slots": 2}],
        "filter": [{"id": "n10", "kind": "neutral", "stops": 10}],
    }
)
START = pd.Timestamp("2026-05-02 10:00:00")


def trip(table, said):
    """A bare scene, then the exposures of ten stops, whatever is said of them."""
    rows = [{"ev100": 12.0} for _ in range(6)] + [{"ev100": 2.1, "exposure_time_s": 8.0, **said}] * 6
    timed = [{**row, "captured_at": str(START + pd.Timedelta(minutes=i))} for i, row in enumerate(rows)]
    return add_scenes(table(timed))


def test_a_false_word_does_not_move_it(table):
    worn = {
        "declaration": "worn",
        "rig": "r",
        "filters": ["n10"],
        "even_stops_min": 10.0,
        "even_stops_max": 10.0,
    }
    right, wrong = (add_independent(trip(table, said), KIT) for said in (worn, {}))
    names = [name for name in right if name.startswith("estimated_independent")]
    pd.testing.assert_frame_equal(right[names], wrong[names])
    assert (wrong["estimated_independent_stops"].iloc[6:] == 10.0).all()


def test_the_other_estimate_stays(table):
    frames = add_estimate(trip(table, {}), KIT)
    out = add_independent(frames, KIT)
    others = [name for name in frames if not name.startswith("estimated_independent")]
    pd.testing.assert_frame_equal(out[others], frames[others])
