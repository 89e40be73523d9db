"""The time strip: what is drawn where, and how little of the expected light is told."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd

from audit import report
from audit.report.strip import LEFT, WIDTH, Scale, strips
from audit.report.strip_data import DayLight, StripFrame, day_lights, sky_steps, worn_spans


def shot(name: str, hour: float, **changes: Any) -> StripFrame:
    usual: dict[str, Any] = {
        "name": name,
        "words": name,
        "body": "A",
        "hour": hour,
        "lasts_h": 0.0,
        "ev100": 10.0,
        "sky_ev100": None,
        "filters": (),
        "level": "",
    }
    return StripFrame(**usual | changes)


def test_a_span_ends_where_the_body_shot_without_the_filter_or_paused() -> None:
    worn = {"filters": ("n6",)}
    shots = (
        shot("a", 7.0, **worn),
        shot("b", 7.2, **worn, lasts_h=0.1),
        shot("c", 7.25, body="B"),
        shot("d", 7.4, **worn),
        shot("e", 7.5),
        shot("f", 7.6, **worn),
        shot("g", 9.0, **worn),
    )
    assert worn_spans(DayLight("2026-05-02", shots)) == {"n6": [(7.0, 7.4), (7.6, 7.6), (9.0, 9.0)]}


def test_expected_light_is_told_to_the_hour_and_the_whole_stop() -> None:
    shots = (shot("a", 7.1, sky_ev100=12.31), shot("b", 7.9, sky_ev100=12.87), shot("c", 8.5), shot("d", 9.2))
    assert sky_steps(DayLight("2026-05-02", shots)) == [(7, 13)]


def test_nothing_finer_of_the_expected_light_leaves(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any], tmp_path: Path
) -> None:
    """Skies that round alike draw alike, in every byte that is written."""
    written = []
    for n, sky in enumerate((12.2, 12.4)):
        trip = make_trip([make_frame("TARN0001", sky_ev100=sky), make_frame("TARN0002", 9)])
        out = report.write(trip, tmp_path / str(n)).out
        written.append({p.relative_to(out): p.read_bytes() for p in out.rglob("*") if p.is_file()})
    assert written[0] == written[1]
    front = written[0][Path("run-0001/index.html")].decode()
    assert 'class="strip-sky"' in front and "Shaded: the light to expect" in front


def test_days_share_one_scale_and_stay_within_the_drawing() -> None:
    days = [
        DayLight("2026-05-02", (shot("a", 0.0, ev100=-6.0), shot("b", 23.99, lasts_h=2.0, filters=("n6",)))),
        DayLight("2026-05-03", (shot("c", 12.0, ev100=None),)),
    ]
    one, two = strips(days, {})
    assert one.hours == two.hours and one.light == two.light
    assert (one.hours[0].words, one.hours[-1].words) == ("00:00", "24:00")
    (bar,) = one.bars
    x, width = (float(v) for v in bar.spans[0])
    assert x >= LEFT and x + width <= WIDTH
    assert two.worn == two.bare == ""


def test_a_strip_of_one_frame_has_a_scale() -> None:
    scale = Scale([DayLight("2026-05-02", (shot("a", 23.5),))])
    assert (scale.first, scale.last) == (21, 24)
    assert scale.high - scale.low >= 3


def test_findings_close_together_share_a_mark_and_the_worst_leads() -> None:
    shots = tuple(
        shot(n, h, level=v) for n, h, v in (("a", 7.0, "look"), ("b", 7.01, "act"), ("c", 9.9, "note"))
    )
    (view,) = strips([DayLight("2026-05-02", shots)], {"a": "frame-1", "b": "frame-2"})
    (mark,) = view.marks
    assert (mark.level, mark.anchor) == ("act", "frame-2")
    assert mark.words == "b, 07:00: to act on; 1 more beside it"


def test_frames_without_a_time_are_on_no_day(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any]
) -> None:
    frames = make_trip([make_frame("TARN0001"), make_frame("TARN0002", captured_at=pd.NaT)]).frames
    (day,) = day_lights(frames, ["act", "look"], {})
    assert [s.name for s in day.shots] == ["DCIM/100BRAT/TARN0001"]
