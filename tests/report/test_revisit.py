"""What to go back for: only what nothing at the desk saves, and never a place."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from audit import report
from audit.finding import Finding
from audit.report.revisit import Revisit, revisits
from audit.report.site import in_order
from audit.report.view import page
from audit.result import Result

Make = Callable[[list[dict[str, Any]]], Result]
Frame = Callable[..., dict[str, Any]]

CUT = {"corner_verdict": "cut", "corner_loss_stops": 9.0, "clean_crop_share": 0.3}
DARK = {"pair_stops": 3.0, "exposure_time_exact_s": 0.25}


def listed(make: Make, frames: list[dict[str, Any]], off: tuple[str, ...] = ()) -> tuple[Revisit, ...]:
    made = make(frames)
    finding = Finding("exposure-off", "act", off, "", "", "measured", "")
    result = replace(made, findings=(finding,) if off else ())
    return revisits(result, in_order(result, page(result)))


def test_a_cut_corner_that_no_crop_saves(make_trip: Make, make_frame: Frame) -> None:
    (one,) = listed(make_trip, [make_frame("TARN0001", setup="s", sun_altitude_deg=12.4, **CUT)])
    assert one.spoiled == "the corners are cut, and no crop leaves half of the picture"
    assert (one.sun.text, one.sun.sure) == ("about 10° high", "computed")
    assert "o'clock" in one.when and ":" not in one.when


@pytest.mark.parametrize(
    "better",
    [
        {"corner_verdict": "clear", "clean_crop_share": 1.0, "corner_loss_stops": 0.0},
        {**CUT, "clean_crop_share": 0.6},
        {**CUT, "corner_loss_stops": 1.0},
    ],
)
def test_not_where_another_frame_with_the_same_filters_will_do(
    make_trip: Make, make_frame: Frame, better: dict[str, Any]
) -> None:
    frames = [make_frame("TARN0001", setup="s", **CUT), make_frame("TARN0002", 1, setup="s", **better)]
    assert listed(make_trip, frames) == ()


def test_a_frame_too_dark_says_the_time_that_would_have_done(make_trip: Make, make_frame: Frame) -> None:
    frame = make_frame("TARN0001", setup="s", **DARK)
    assert listed(make_trip, [frame]) == ()  # nobody says that it is off
    (one,) = listed(make_trip, [frame], (frame["frame"],))
    assert one.spoiled == "3 stops too dark to be lifted"
    assert one.would_do.text == "about 2 s at the same f-number and ISO"


def test_a_frame_too_bright_only_where_it_is_clipped(make_trip: Make, make_frame: Frame) -> None:
    bright = make_frame("TARN0001", setup="s", pair_stops=-2.0, exposure_time_exact_s=1.0, clipped_top=0.0)
    name = (bright["frame"],)
    assert listed(make_trip, [bright], name) == ()
    (one,) = listed(make_trip, [{**bright, "clipped_top": 0.3}], name)
    assert one.would_do.text == "about 1/4 s at the same f-number and ISO"


def test_a_frame_of_no_setup_is_left_out(make_trip: Make, make_frame: Frame) -> None:
    assert listed(make_trip, [make_frame("TARN0001", setup=None, **CUT)]) == ()


def test_the_sun_is_told_to_five_degrees_or_why_not(make_trip: Make, make_frame: Frame) -> None:
    for altitude, said in ((-7.4, "about 5° below the horizon"), (None, "not known: no place is known")):
        frame = make_frame("TARN0001", setup="s", sun_altitude_deg=altitude, sky_source=None, **CUT)
        (one,) = listed(make_trip, [frame])
        assert one.sun.text == said


def front_of(result: Result, folder: Path) -> tuple[str, set[str]]:
    """The front page's words and the pages beside it."""
    run = report.write(result, folder / "out").out / "run-0001"
    page = (run / "index.html").read_text(encoding="utf-8")
    main = page[page.index("<main") :].partition("</main>")[0]
    words = " ".join(re.sub(r"<[^>]+>", " ", main).split())
    return words, {path.name for path in run.glob("*.html")}


def quiet(made: Result, findings: tuple[Finding, ...] = ()) -> Result:
    return replace(made, findings=findings, mistakes=())


def test_the_front_page_leads_to_the_list(make_trip: Make, make_frame: Frame, tmp_path: Path) -> None:
    made = make_trip([make_frame("TARN0001", setup="s", **CUT)])
    look = Finding("corners", "look", (made.rows[0]["frame"],), "", "", "predicted", "")
    words, pages = front_of(quiet(made, (look,)), tmp_path)
    assert "1 picture to go back for" in words
    assert "go-back.html" in pages


def test_when_nothing_is_wrong_one_line_says_so_and_the_trip_is_shown(
    make_trip: Make, make_frame: Frame, tmp_path: Path
) -> None:
    words, pages = front_of(quiet(make_trip([make_frame("TARN0001")])), tmp_path)
    assert words.startswith("Nothing to act on and nothing to look at.")
    assert "What to act on" not in words and "Setups and their frames" in words
    assert "go-back.html" not in pages
