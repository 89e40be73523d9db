"""Frames and folders keep the names by which they can be told apart, and crops what the pictures show."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from audit import report
from audit.report.causes import _saved
from audit.report.language import Language
from audit.report.print_jobs import alone
from audit.report.strip import ROOM, _short

Make = Callable[..., Any]


def test_two_cards_with_the_same_numbers_are_told_apart(
    make_trip: Make, make_frame: Make, tmp_path: Path
) -> None:
    rows = [make_frame(f"N_000{n}", n, folder=card) for card in ("card-a", "card-b") for n in (1, 2)]
    out = report.write(replace(make_trip(rows), findings=()), tmp_path / "out").out
    for name in ("2026-05-02.html", "frames.html"):
        found = (out / "run-0001" / name).read_text(encoding="utf-8")
        assert all(f"{card}/N_000{n}<" in found for card in ("card-a", "card-b") for n in (1, 2)), name


def test_a_folder_keeps_its_name_in_every_language(make_trip: Make, make_frame: Make) -> None:
    one = make_trip([make_frame("N_0001", folder="Notes"), make_frame("N_0002", folder=".")])
    told = report.render(replace(one, findings=()), language=Language("de"))
    assert "<bdi>Notes</bdi>" in told and "<bdi>Hinweise</bdi>" not in told


def test_a_long_id_keeps_both_ends_in_the_strip() -> None:
    assert _short("n10") == "n10"
    assert len(_short("neutral-ten-stops-150")) == ROOM
    assert _short("neutral-ten-stops-150") != _short("neutral-ten-stops-100")


def test_an_earlier_pdf_does_not_stay_beside_newer_numbers(result: Any, tmp_path: Path) -> None:
    out = report.write(result, tmp_path / "out").out
    (out / "newest" / "report.pdf").write_bytes(b"%PDF of an earlier run")
    report.write(result, out)
    assert not (out / "newest" / "report.pdf").exists()


CROPS = {"none": (None, None), "whole": (1.0, 0.87), "most": (0.75, 0.7), "not at worst": (0.8, None)}


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (["none"], "none by a crop"),
        (["whole", "whole"], "2 of 2 without a crop, to be safe by a crop to 87 % of the picture"),
        (["whole", "most", "none"], "2 of 3 by a crop to 75 to 100 % of the picture (70 % to be safe)"),
        (["not at worst"], "1 of 1 by a crop to 80 % of the picture (at worst none is)"),
        (
            ["most", "not at worst"],
            "2 of 2 by a crop to 75 to 80 % of the picture (at worst not each of them)",
        ),
    ],
)
def test_what_a_crop_saves(rows: list[str], words: str) -> None:
    keys = ("clean_crop_share", "clean_crop_worst_share")
    assert _saved([dict(zip(keys, CROPS[name], strict=True)) for name in rows]) == words


def test_a_picture_that_shows_clean_corners_is_printed_whole(make_trip: Make, make_frame: Make) -> None:
    cut = {"corner_verdict": "cut", "clean_crop": "600, 400, 4800, 3200", "clean_crop_share": 0.64}
    shown = {"contradiction": "the rig was not on", "shown_loss_stops": 0.0, "shown_predicted_min_stops": 2.7}
    plain, refuted = make_trip([make_frame("a", **cut), make_frame("b", **cut, **shown)]).frames.to_dict(
        "records"
    )
    assert alone(plain).crop is not None
    assert alone(refuted).crop is None and "shows its corners" in alone(refuted).note
