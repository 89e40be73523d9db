"""Lenses in the span, and lenses without contacts."""

from __future__ import annotations

from collections.abc import Callable
from math import log2
from typing import Any

import pytest

from audit.declare import add_gear, join
from audit.kit.kit import Kit, Lens

SILENT = {"lens": None, "focal_length_mm": None, "f_number": None, "f_number_exact": None, "ev100": None}
Declare = Callable[[dict[str, str]], Any]


def first(scanned: Any, kit: Kit, declarations: Any, **values: Any) -> Any:
    rows = [{"frame": "d/N_0001", "captured_at": "2026-05-02 10:00", **values}]
    return join(add_gear(scanned(rows), kit), kit, declarations).frames.iloc[0]


def span(more: str) -> dict[str, str]:
    return {"d": f"[[worn]]\nfiles = ['N_0001']\nbare = true\n{more}\n"}


def test_the_kit_fills_what_the_file_cannot_say(scanned: Any, kit: Kit, declare: Declare) -> None:
    row = first(scanned, kit, [], **SILENT)
    assert (row["lens_id"], row["lens_source"], row["focal_length_mm"]) == ("m20", "assumed", 20)
    assert (row["f_number"], row["f_number_basis"]) == (11, "kit")
    assert row["f_number_exact"] == pytest.approx(11.31, abs=5e-3)
    exposure_s = 2.0 ** (-20 / 3)
    assert row["ev100"] == pytest.approx(log2(row["f_number_exact"] ** 2 / exposure_s))


def test_the_span_is_believed_before_the_kit(scanned: Any, kit: Kit, declare: Declare) -> None:
    row = first(scanned, kit, declare(span('lens = "m20"\nf_number = 8')), **SILENT)
    assert (row["lens_source"], row["f_number_exact"], row["f_number_basis"]) == ("declared", 8, "declared")
    estimated = first(scanned, kit, declare(span('lens = "m20"\nsource = "estimated"')), **SILENT)
    assert estimated["lens_source"] == "estimated"


def test_what_the_file_says_is_not_overwritten(scanned: Any, kit: Kit, declare: Declare) -> None:
    row = first(
        scanned, kit, declare(span('lens = "m20"\nf_number = 8')), lens=None, f_number=5.6, focal_length_mm=21
    )
    assert (row["lens_id"], row["f_number"], row["focal_length_mm"]) == ("m20", 5.6, 21)


def test_the_files_own_name_is_believed_before_the_span(scanned: Any, kit: Kit, declare: Declare) -> None:
    row = first(scanned, kit, declare(span('lens = "m20"')))
    assert (row["lens_id"], row["lens_source"]) == ("w16", "exif")


def test_a_zoom_without_contacts_has_no_focal_length(scanned: Any, declare: Declare) -> None:
    kit = Kit(lens=(Lens(id="z", focal_mm=(28, 50), no_contacts=True),))
    row = first(scanned, kit, [], **SILENT)
    assert row["lens_id"] == "z"
    assert row[["focal_length_mm", "f_number", "ev100"]].isna().all()


def test_an_assumed_lens_gives_way_to_the_ring(scanned: Any, kit: Kit, declare: Declare) -> None:
    ring = {"d": "[[worn]]\nfiles = ['N_0001']\nring = 'r72'\nholder = 'main'\n"}
    row = first(scanned, kit, declare(ring), lens=None, focal_length_mm=24)
    assert (
        row["declaration"] == "worn" and row["lens_source"] == "w16 fits the focal length, but not the ring"
    )
    assert row[["lens_id"]].isna().all()
