"""What kept checks from running stands on the front page: "nothing to act on" is no clean bill."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from audit import report
from audit.kit.kit import Kit
from audit.report.hints import hints

UNSAID = {"declaration": "undeclared", "rig": None, "rig_words": None, "filters": []}


def test_a_trip_with_kit_and_declarations_needs_no_hint(module_trip: Any) -> None:
    assert hints(module_trip) == ()


def test_without_a_declaration_the_front_page_says_what_was_not_checked(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any], tmp_path: Path
) -> None:
    found = replace(make_trip([make_frame("TARN0101", **UNSAID)]), mistakes=(), kit=Kit())
    kit, undeclared = hints(found)
    assert kit.startswith("No kit: ") and "neither filters nor corners were checked" in undeclared
    out = report.write(found, tmp_path / "out").out
    front = (out / "run-0001" / "index.html").read_text(encoding="utf-8")
    for page in (front, report.render(found)):
        assert (
            "<code>cornerstop draft DUMP</code>" in page
            and "<code>cornerstop kit new DUMP</code>" in page
            and "<code>kit.toml</code>" in page
        )


def test_pictures_without_a_preview_are_counted(
    make_trip: Callable[..., Any], make_frame: Callable[..., Any]
) -> None:
    blind = [make_frame(f"TARN010{n}", pixel_why="no preview") for n in (1, 2)]
    seen = make_frame("TARN0103")
    assert hints(replace(make_trip([*blind, seen]), pixels="preview"))[0].startswith(
        "2 frames have no embedded"
    )
    assert hints(replace(make_trip([*blind, seen]), pixels="full")) == ()
    assert hints(replace(make_trip([blind[0], seen]), pixels="preview")) == ()


def test_an_empty_folder_is_asked_about(empty_result: Any) -> None:
    assert hints(empty_result) == ("No picture was found: is this the right folder?",)
