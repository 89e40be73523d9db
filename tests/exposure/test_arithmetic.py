"""Times beyond the dial against the arithmetic from the frame without filters."""

import numpy as np
import pandas as pd
import pytest

from audit.exposure.arithmetic import add_arithmetic, readings
from audit.exposure.scenes import add_scenes
from audit.kit.kit import Kit
from audit.message.figures import duration

START = pd.Timestamp("2026-05-02 10:00:00")
KIT = Kit.model_validate(
    {
        "filter": [
            {"id": "n10", "kind": "neutral", "stops": 10},
            {"id": "d30", "kind": "neutral", "density": 3.0},
            {"id": "f64", "kind": "neutral", "factor": 64},
            {"id": "n3", "kind": "neutral", "stops": 3},
            {"id": "pol", "kind": "polariser", "round": True},
            {"id": "g2", "kind": "grad-soft", "stops": 2},
        ]
    }
)
BOTH = "1/4 s and 10 stops make 4 min 16 s; density 3.0, 9.97 stops, makes 4 min 10 s"


def shot(minute, time_s, f_number=8.0, iso=100.0, **more):
    ev = np.log2(f_number**2 / time_s) - np.log2(iso / 100)
    exact = {"exposure_time_s": time_s, "exposure_time_exact_s": time_s, "iso": iso, "ev100": ev}
    at = {"captured_at": str(START + pd.Timedelta(minutes=minute))}
    return {**exact, **at, "f_number": f_number, "f_number_exact": f_number, "neutral_stops": 0.0, **more}


def worn(minute, time_s, *filters, even=10.0, **more):
    rig = {"declaration": "worn", "rig": "r", "filters": list(filters), "neutral_stops": even}
    return shot(minute, time_s, **{**rig, "even_stops_min": even, "even_stops_max": even, **more})


def reckoned(table, *rows):
    return add_arithmetic(add_scenes(table(rows)), KIT).iloc[-1]


@pytest.mark.parametrize("filter_id", ["n10", "d30"])
def test_the_answer_says_which_reading(table, filter_id):
    even = KIT.filter(filter_id).loss_stops[0]
    row = reckoned(table, shot(0, 0.25), worn(1, 60.0, filter_id, even=even))
    assert row["arithmetic_words"] == BOTH
    assert row["arithmetic_off_stops"] == pytest.approx(np.log2(60 / 250), abs=0.001)
    assert (row["reference_time_s"], row["reference_f_number"], row["reference_iso"]) == (0.25, 8.0, 100.0)
    assert row["reference_frame"].endswith("0101")
    assert row["reference_minutes"] == pytest.approx(1.5, abs=0.01)


@pytest.mark.parametrize("time_s", [250.0, 253.0, 256.0])
def test_a_time_by_either_reading_is_right(table, time_s):
    assert reckoned(table, shot(0, 0.25), worn(1, time_s, "n10"))["arithmetic_off_stops"] == pytest.approx(
        0, abs=1e-3
    )


def test_aperture_and_iso_enter_the_sum(table):
    row = reckoned(table, shot(0, 0.25, iso=400.0), worn(1, 2048.0, "n10", f_number=2**3.5))
    assert row["arithmetic_words"].startswith(
        "1/4 s at f/8, ISO 400 is 2 s at f/11, ISO 100; 2 s and 10 stops"
    )
    assert row["arithmetic_off_stops"] == pytest.approx(0, abs=1e-6)


def test_a_polariser_and_a_grad_make_a_range(table):
    more = {"even_stops_min": 11.0, "even_stops_max": 12.0}
    row = reckoned(table, shot(0, 0.25), worn(1, 1024.0, "n10", "pol", **more))
    assert row["arithmetic_words"] == "1/4 s and 11 to 12 stops make 8 min 32 s to 17 min 4 s"
    assert row["arithmetic_off_stops"] == 0.0
    row = reckoned(table, shot(0, 0.25), worn(1, 512.0, "n10", "g2", grad_stops=2.0))
    assert row["arithmetic_off_stops"] == 0.0


def test_of_the_last_few_the_one_that_fits_is_taken(table):
    """Which frame the photographer reckoned from is not known."""
    row = reckoned(table, shot(0, 0.25), shot(0.5, 1 / 15), shot(0.8, 1 / 60), worn(1, 256.0, "n10"))
    assert row["reference_frame"].endswith("0101")
    assert row["arithmetic_off_stops"] == 0.0


def test_a_bracket_is_its_middle(table):
    bracket = [shot(s / 60, t, exposure_program="manual") for s, t in ((0, 1 / 4), (1, 1 / 16), (2, 1.0))]
    row = reckoned(table, *bracket, worn(1, 60.0, "n10"))
    assert row["reference_time_s"] == 0.25


def test_a_frame_after_serves_where_there_is_none_before(table):
    out = add_arithmetic(add_scenes(table([worn(0, 64.0, "n10"), shot(3, 1 / 16)])), KIT)
    assert out["reference_frame"].iloc[0].endswith("0102")


@pytest.mark.parametrize(
    "rows",
    [
        [worn(1, 256.0, "n10")],
        [shot(0, 0.25), worn(1, 30.0, "n10")],
        [shot(0, 0.25), worn(1, 60.0, "n3", even=3.0)],
        [shot(0, 0.25), worn(60, 256.0, "n10")],
        [shot(0, 0.25, flash_fired=True), worn(1, 256.0, "n10")],
        [shot(0, 0.25, declaration="unknown"), worn(1, 256.0, "n10")],
        [shot(0, 0.25), worn(1, 256.0, "n10", declaration_source="estimated")],
    ],
    ids=["no reference", "on the dial", "weak", "another scene", "flash", "unknown", "estimated"],
)
def test_what_is_not_reckoned(table, rows):
    row = reckoned(table, *rows)
    assert pd.isna(row["arithmetic_off_stops"])
    assert pd.isna(row["reference_frame"])


def test_readings_of_marks():
    assert readings(["n10", "n3"], KIT).trade == 13
    assert readings(["n10"], KIT).exact == pytest.approx(9.966, abs=0.001)
    assert readings(["f64"], KIT).trade == readings(["f64"], KIT).exact == 6
    assert readings(["pol", "g2", "nobody"], KIT).trade == 0
    assert readings(["f64"], KIT).words(1.0, (0, 0), "1 s") == "1 s and 6 stops make 1 min 4 s"


@pytest.mark.parametrize(
    ("seconds", "words"), [(0.25, "1/4 s"), (0.5, "0.5 s"), (15, "15 s"), (240, "4 min"), (256, "4 min 16 s")]
)
def test_durations(seconds, words):
    assert duration(seconds) == words


def test_no_frame_at_all(table):
    empty = add_scenes(table([shot(0, 1.0)]).iloc[:0])
    assert len(add_arithmetic(empty, KIT)) == 0


def test_many_long_exposures_take_seconds(table):
    long = table([shot(0, 0.25), worn(0, 64.0, "n10")])
    long = pd.concat([long] * 4000, ignore_index=True)
    long["captured_at"] = START + pd.to_timedelta(np.arange(8000) * 70, unit="s").as_unit("us")
    long["frame"] = [f"TARN{i:05d}" for i in range(8000)]
    out = add_arithmetic(add_scenes(long), KIT)
    assert out["arithmetic_off_stops"].notna().sum() == 4000
