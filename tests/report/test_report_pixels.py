"""What the pictures show, in the page and in findings.json: synthetic evidence, every word looked for."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from audit.finding import CheckInfo, CheckRun, Finding
from audit.pixels.evidence import CameraCurve, Evidence, FilterShown
from audit.report import render, write
from audit.report.data import findings_record
from audit.report.heat import STEPS_STOPS, outline, plate
from audit.report.pixel_words import lines, plus_minus, predicted_there, summary, why_none
from audit.result import Result

SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "findings.schema.json").read_text(encoding="utf-8"))
NAN = float("nan")
FOLDER = "DCIM/100BRAT"

LOOKED: dict[str, Any] = {
    "pixel_source": "embedded preview 1620 x 1080",
    "pixel_kind": "embedded preview",
    "clipped_top": 0.124,
    "clipped_middle": 0.002,
    "clipped_bottom": 0.0,
    "black_top": 0.0,
    "black_middle": 0.0,
    "black_bottom": 0.0,
    "clipping_basis": "reduced",
}
HELD: dict[str, Any] = LOOKED | {
    "pair_with": f"{FOLDER}/TARN0103",
    "pair_stops": -0.31,
    "pair_err_stops": 0.1,
    "strength_filter": "n10",
    "strength_stops": 9.62,
    "strength_err_stops": 0.14,
    "strength_light_err_stops": 0.46,
    "strength_verdict": "as declared",
    "filter_stops": 9.7,
    "filter_err_stops": 0.2,
    "cast_uv": 0.0142,
    "cast_err_uv": 0.006,
    "cast_mired": -31.0,
    "cast_words": "cooler",
    "shown_loss_stops": 0.62,
    "shown_loss_err_stops": 0.04,
    "shown_loss_threshold_stops": 0.04,
    "shown_predicted_min_stops": 0.0,
    "shown_predicted_max_stops": 0.21,
    "contradiction": "the corners lack 0.6 stops, predicted 0.2 at most",
    "stack": "S1",
    "stack_count": 12,
    "stack_loss_stops": 0.9,
    "stack_threshold_stops": 0.6,
    "stack_words": "12 compositions would show 2 stops, not 1",
    "corner_hint": "all four corners are dark, as behind a ring",
}
REFUSED: dict[str, Any] = LOOKED | {
    "pair_why": "more than a third of the picture moved",
    "strength_why": "more than a third of the picture moved",
    "cast_why": "the white balance was automatic",
    "shown_loss_why": "more than a third of the picture moved",
}
N10 = FilterShown(
    filter="n10",
    declared_stops=(9.97, 9.97),
    stops=9.7,
    err_stops=0.2,
    held_err_stops=0.1,
    spread_stops=0.12,
    range_stops=(9.5, 9.8),
    pairs=2,
    scenes=1,
    frames=(f"{FOLDER}/TARN0101", f"{FOLDER}/TARN0102"),
    why="",
    cast_uv=0.0142,
    cast_err_uv=0.002,
    cast_mired=-31.0,
    cast_words="cooler",
    cast_why="",
)
NONE = dict.fromkeys(
    ("stops", "err_stops", "held_err_stops", "spread_stops", "cast_uv", "cast_err_uv", "cast_mired"), NAN
)
G2 = replace(
    N10,
    filter="g2hard",
    declared_stops=(2.0, 2.0),
    range_stops=(NAN, NAN),
    pairs=0,
    scenes=0,
    frames=(),
    why="a grad covers part of the frame",
    cast_words="",
    cast_why="a grad is on",
    **NONE,
)
POL = replace(
    N10,
    filter="pol",
    declared_stops=(1.0, 2.0),
    stops=1.4,
    range_stops=(0.9, 1.8),
    cast_uv=NAN,
    cast_err_uv=NAN,
    cast_why="no",
)


def corners_map(depth: float = 1.4, rows: int = 24, columns: int = 36) -> np.ndarray:
    """Corners that fall off from 80 % of the half diagonal; a corner unknown, a bright patch, noise."""
    y, x = np.mgrid[0:rows, 0:columns]
    r = np.hypot((2 * y - rows + 1) / rows * 0.555, (2 * x - columns + 1) / columns * 0.832)
    dark = depth * np.clip((r - 0.8) / 0.2, 0, None) ** 1.3
    dark += np.random.default_rng(1).normal(0, 0.03, dark.shape)
    dark[9:12, 8:13] = -0.4
    dark[:2, -3:] = np.nan
    return dark


CHECK = CheckInfo("corners-shown", "Corners contradict", "Why.", "0.15 stop", "log ratio", "Look.", ())


@pytest.fixture
def shown(make_trip: Callable[..., Result], make_frame: Callable[..., Any]) -> Result:
    return shown_trip(make_trip, make_frame)


def shown_trip(make_trip: Callable[..., Result], make_frame: Callable[..., Any]) -> Result:
    """Frames 1 and 2 held against bare frame 3; frame 4 refused; frame 5 without pixels."""
    bare = {"declaration": "bare", "rig_words": "bare lens", "stops_words": "0 stops", "corner": None}
    trip = make_trip(
        [
            make_frame("TARN0101", **HELD),
            make_frame("TARN0102", 1, **HELD | {"shown_loss_stops": 0.7, "orientation": 6}),
            make_frame("TARN0103", 2, **LOOKED, **bare, pair_why="no frame without filters in this scene"),
            make_frame("TARN0104", 3, **REFUSED),
            make_frame("TARN0105", 4, pixel_why="the file holds no preview"),
        ]
    )
    two = tuple(f"{FOLDER}/TARN010{n}" for n in (1, 2))
    findings = (
        Finding("corners-shown", "act", two, "the corners lack 0.7", "0 to 0.2", "measured", "Look.", "0.70"),
        Finding("filter-strength", "look", two[:1], "9.6", "declared 9.97", "measured", "Look.", "0.4 stops"),
        Finding("colour-cast", "note", two[:1], "cooler", "less", "measured", "Correct.", "-31 mired"),
        Finding("jpeg-clipped", "note", two, "JPEG clipped", "less", "measured", "Look."),
    )
    against = f"{FOLDER}/TARN0103"
    return replace(
        trip,
        findings=findings,
        checks=(*trip.checks, CheckRun(CHECK, "ran", 1)),
        pixels="preview",
        evidence={name: Evidence(name, against, corners_map()) for name in two},
        filters=(N10, G2, POL),
        curves=(CameraCurve("Brattholm Tarn", True, 0.03, 4), CameraCurve("Brattholm Ness", False, None, 0)),
    )


class Text(HTMLParser):
    """The words of a piece of the page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.feed(html)

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def __str__(self) -> str:
        return " ".join(" ".join(self.words).split())


def piece(html: str, start: str, end: str) -> str:
    at = html.index(start)
    return html[at : html.index(end, at)]


def test_a_finding_shows_both_pictures_the_map_and_the_number(shown: Result) -> None:
    html = render(shown)
    row = piece(html, 'id="act-corners-shown-1"', "</figure>")
    words = str(Text(row))
    assert row.count("<img ") == 2 and row.count("data:image/jpeg;base64,") == 2
    # of the two frames the one that lost more is shown
    assert 'href="#h2"' in row and 'href="#h1"' not in row
    assert "corners 0.70 ± 0.04 stops darker, mean of the four measured" in words
    assert "0 to 0.21 stops over the same corners predicted" in words
    assert "Compared with: TARN0103 bare lens" in words
    alts = re.findall(r'alt="([^"]*)"', row)
    assert alts[0] == "TARN0102, ring r77, holder main: n10, g2hard: corners 0.70 ± 0.04 stops darker, " + (
        "mean of the four, measured"
    )
    assert alts[1] == "TARN0103, bare lens, compared with it"
    assert "top left" in words and "Stops darker than the middle" in words


def test_evidence_stands_only_where_it_bears_on_the_finding(shown: Result) -> None:
    html = render(shown)
    strength = str(Text(piece(html, 'id="look-filter-strength-1"', "</figure>")))
    assert "n10 9.6 ± 0.1 stops if the light held, ± 0.5 with changing light measured" in strength
    assert "12 in the sky declared" in strength
    cast = piece(html, 'id="note-colour-cast-1"', "</figure>")
    assert "cooler: 0.014 ± 0.006 in u'v', about \N{MINUS SIGN}31 mired measured" in str(Text(cast))
    assert cast.count("<img ") == 2 and "<svg" not in cast
    clipped = html[html.index('id="note-jpeg-clipped-1"') :].partition("</tbody>")[0]
    assert "<figure" not in clipped


def test_a_finding_without_evidence_shows_none(shown: Result) -> None:
    assert "<figure" not in render(replace(shown, evidence={}))
    gone = Evidence(f"{FOLDER}/TARN0101", "no such frame", corners_map())
    assert "<figure" not in render(replace(shown, evidence={gone.frame: gone}))


def test_a_frame_tells_each_measurement_with_how_sure_it_is(shown: Result) -> None:
    words = str(Text(piece(render(shown), 'id="frame-1"', "</article>")))
    for said in (
        "What the pixels show: n10 9.6 ± 0.1 stops if the light held; corners 0.62 ± 0.04 stops darker",
        "Pixels embedded preview 1620 x 1080",
        "JPEG clipped at least top 12 %, middle 0.2 %, bottom 0 % measured",
        "JPEG black none seen measured",
        "Compared with TARN0103 , whose picture is 0.3 ± 0.1 stops darker measured",
        "± 0.5 with changing light: as declared; over the trip 9.7 ± 0.2 stops measured",
        "Cast cooler: 0.014 ± 0.006 in u'v', about \N{MINUS SIGN}31 mired measured",
        "Corners 0.62 ± 0.04 stops darker, mean of the four; this pair shows 0.04 or more "
        "measured; predicted there 0 to 0.21 stops",
        "Against the declaration the corners lack 0.6 stops, predicted 0.2 at most",
        "corners 0.9 stops darker in the median; 12 compositions would show 2 stops, not 1",
        "Hint all four corners are dark, as behind a ring a hint, no measurement",
    ):
        assert said in words, said


def test_what_cannot_be_measured_is_one_line(shown: Result) -> None:
    html = render(shown)
    refused = str(Text(piece(html, 'id="frame-4"', "</article>")))
    assert (
        "Not measurable brightness, strength, corners: more than a third of the picture moved; cast: the"
        in (refused)
    )
    without = str(Text(piece(html, 'id="frame-5"', "</article>")))
    assert without.count("not measurable: the file holds no preview") == 1
    assert "What the pixels show" not in without
    bare = str(Text(piece(html, 'id="frame-3"', "</article>")))
    assert "no frame without filters" not in bare


def test_no_word_of_pixels_where_nobody_looked(result: Result) -> None:
    html = render(result)
    assert "What the pixels show:" not in html and 'class="pixels"' not in html
    assert "Pixels were not looked at" in html and "Left unsaid" not in html
    assert "Filters as the pictures show them" not in html


def test_the_kit_shows_each_filter_declared_and_measured(shown: Result) -> None:
    html = render(shown)
    kit = piece(html, 'id="filters"', "</table>")
    assert kit.count('scope="col"') == 7 and kit.count('scope="row"') == 3
    words = str(Text(kit))
    assert "n10 9.97 stops 9.7 ± 0.1 stops ± 0.2 stops 0.12 stop cooler: 0.014 ± 0.002 in u'v'" in words
    assert "2 pairs in 1 scene TARN0101 TARN0102" in words
    assert "g2hard 2 stops not measurable: a grad covers part of the frame" in words
    assert "1.4 ± 0.1 stops, 0.9 to 1.8 depending on its turn" in words


def test_the_method_tells_where_pixels_came_from_and_what_is_not_said(shown: Result) -> None:
    words = str(Text(piece(render(shown), 'id="pixels"', '<article class="check"')))
    assert "embedded preview 4 frames" in words
    assert "not measurable: the file holds no preview 1 frame" in words
    assert "Brattholm Tarn fitted on 4 brackets of this trip, 0.03 stop left over" in words
    assert "Brattholm Ness general" in words
    for unsaid in ("2.2 stops darker to 3.7 stops brighter", "JPEG clipped", "Camera shake", "Hot pixels"):
        assert unsaid in words


def test_findings_json_holds_filters_and_mode(shown: Result, result: Result) -> None:
    record = json.loads(json.dumps(findings_record(shown), allow_nan=False))
    jsonschema.validate(record, SCHEMA)
    assert record["pixels"] == "preview" and record["schema_version"] == 1
    first, grad, _ = record["filters"]
    assert first["stops"] == 9.7 and first["frames"] == list(N10.frames)
    assert grad["stops"] is None and grad["range_stops"] == [None, None] and grad["why"]
    off = findings_record(result)
    assert off["pixels"] == "off" and off["filters"] == []


def test_maps_are_drawn_once_and_alike_every_time(shown: Result) -> None:
    html = render(shown)
    assert html.count('<symbol id="h1"') == 1 and html.count('<symbol id="h2"') == 1
    assert html.count('<symbol id="heat-scale"') == 1
    assert html == render(shown)


def test_a_map_is_turned_as_the_picture_is_held() -> None:
    darker = np.zeros((24, 36))
    darker[:6, :9] = 0.6  # top left as stored
    evidence = Evidence("a", "b", darker)
    stored, turned = plate(evidence, 1, "h1"), plate(evidence, 6, "h2")
    assert (stored.width, stored.height) == ("180", "120")
    assert (turned.width, turned.height) == ("120", "180")
    assert [label.words for label in stored.labels] == ["0.6", "0", "0", "0", "0"]
    # orientation 6: the stored top left is the upper right of the upright picture
    assert [label.words for label in turned.labels] == ["0", "0.6", "0", "0", "0"]
    assert stored.steps == ("M0 0H45V30H0Z", "M0 0H45V30H0Z", "", "")


def test_a_maps_numbers_are_those_whose_mean_is_told() -> None:
    """Where the corners were measured, not the map's own medians stand in them."""
    evidence = Evidence("a", "b", np.zeros((24, 36)), (0.8, 2.9, 3.4, NAN))
    stored, turned = plate(evidence, 1, "h1"), plate(evidence, 6, "h2")
    assert [label.words for label in stored.labels] == ["0.8", "2.9", "3.4", "?", "0"]
    assert [label.words for label in turned.labels] == ["3.4", "0.8", "?", "2.9", "0"]
    assert stored.description.startswith("Stops that the corners lack: top left 0.8")
    assert "each corner lacks" in stored.numbers
    assert plate(Evidence("a", "b", np.zeros((24, 36))), 1, "h1").numbers == "stops darker than the middle"


@pytest.mark.parametrize("orientation", [1, 6])
@pytest.mark.parametrize("shape", [(24, 36), (24, 24), (20, 60)])
def test_no_number_of_a_map_touches_another_or_leaves_it(orientation: int, shape: tuple[int, int]) -> None:
    """12 px and 7.3 px a figure, as the style sheet sets them; the widest numbers that there may be."""
    drawn = plate(Evidence("a", "b", np.zeros(shape), (-0.9, 10.2, -0.8, 10.4)), orientation, "h1")
    boxes = []
    for label in drawn.labels:
        wide = 7.3 * len(label.words)
        left = float(label.x) - wide * {"start": 0, "middle": 0.5, "end": 1}[label.anchor]
        boxes.append((left, float(label.y) - 9, left + wide, float(label.y) + 1))
    for n, (left, top, right, bottom) in enumerate(boxes):
        assert left >= 0 and top >= 0 and right <= float(drawn.width) and bottom <= float(drawn.height)
        for other in boxes[n + 1 :]:
            assert right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top


def test_a_prediction_beyond_what_pictures_show_says_so(
    make_frame: Callable[..., Any], make_trip: Callable[..., Any]
) -> None:
    told = {"shown_predicted_min_stops": 1.83, "shown_predicted_max_stops": 10.0}
    deep = make_trip([make_frame("TARN0001", **told)]).rows[0]
    words = predicted_there(deep)
    assert words.startswith("1.83 to 10 stops (black counts as 10;")
    assert "a picture shows only part of more than 2" in words
    mild = make_trip([make_frame("TARN0001", **(told | {"shown_predicted_max_stops": 1.9}))]).rows[0]
    assert predicted_there(mild) == "1.83 to 1.9 stops"


def test_a_map_says_what_it_does_not_know() -> None:
    darker = np.full((8, 8), np.nan)
    drawn = plate(Evidence("a", "b", darker), 1, "h1")
    assert {label.words for label in drawn.labels} == {"?"}
    assert drawn.unknown and not any(drawn.steps) and not drawn.brighter
    assert "100 % of the map is unknown" in drawn.description
    with pytest.raises(ValueError, match="rows and columns are needed"):
        plate(Evidence("a", "b", np.zeros((0, 3))), 1, "h1")


@pytest.mark.parametrize("seed", range(20))
def test_outlines_hold_exactly_the_cells_inside(seed: int) -> None:
    inside = np.random.default_rng(seed).random((9, 12)) < 0.45
    assert np.array_equal(filled(outline(inside, 1.0), inside.shape), inside)


def filled(path: str, shape: tuple[int, int]) -> np.ndarray:
    """Cells inside a path of horizontal and vertical lines by the even-odd rule."""
    crossings = np.zeros(shape, dtype=int)
    x = y = 0
    for letter, words in re.findall(r"([MHVZ])([\d. ]*)", path):
        if letter == "M":
            x, y = (int(float(n)) for n in words.split())
            start = x, y
        elif letter == "H":
            x = int(float(words))
        else:
            to = start[1] if letter == "Z" else int(float(words))
            crossings[min(y, to) : max(y, to), x:] += 1
            y = to
    return crossings % 2 == 1


def test_steps_are_nested() -> None:
    assert tuple(sorted(STEPS_STOPS)) == STEPS_STOPS
    drawn = plate(Evidence("a", "b", corners_map(3.0)), 1, "h1")
    areas = [filled(step.replace(".5", ""), (300, 300)).sum() for step in drawn.steps]
    assert areas == sorted(areas, reverse=True) and areas[-1] > 0


def test_plus_minus_never_shows_a_range_of_nothing() -> None:
    assert plus_minus(9.62, 0.14) == "9.6 ± 0.1"
    assert plus_minus(9.62, 0.01) == "9.6 ± 0.1"
    assert plus_minus(-0.004, 0.04, 2) == "0.00 ± 0.04"
    assert plus_minus(-0.31, NAN) == "\N{MINUS SIGN}0.3"


def test_words_of_a_row_without_pixels(make_frame: Callable[..., Any], make_trip: Callable[..., Any]) -> None:
    row = make_trip([make_frame("TARN0001")]).frames.to_dict("records")[0]
    assert lines(row) == () and summary(row) == "" and why_none(row) == ""


def test_a_loss_below_what_the_pair_can_show_is_none_seen(
    make_frame: Callable[..., Any], make_trip: Callable[..., Any]
) -> None:
    small = HELD | {"shown_loss_stops": 0.02, "contradiction": None}
    row = make_trip([make_frame("TARN0001", **small)]).frames.to_dict("records")[0]
    assert "corners 0.02 ± 0.04 stops, none seen" in summary(row)


@pytest.mark.parametrize("width", [360, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_page_with_maps_stays_within_the_screen(
    browser: Any, shown: Result, tmp_path: Path, width: int, scheme: str
) -> None:
    page_file = write(shown, tmp_path / "out", single=True).page
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.goto(page_file.as_uri())
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        """[...document.querySelectorAll("a:not(.skip), summary")]
        .filter(e => e.getBoundingClientRect().height < 24).map(e => e.outerHTML)"""
    )
    context.close()
    assert said == [] and small == []
