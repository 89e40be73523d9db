"""The print desk in a browser: chosen once for all, kept in the address, saved, audited again."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from audit import report
from audit.finding import Finding
from audit.jobs.audit import audit
from audit.report.orders import HEADER, job_number, orders_text

NAMES = ("TARN0101", "TARN0102", "TARN0103")


@pytest.fixture(scope="module")
def dump(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three pictures of different size, one of them in a folder whose name looks like a comment."""
    dump = tmp_path_factory.mktemp("desk") / "dump"
    for n, (name, folder) in enumerate(zip(NAMES, (".", "Day #2", "."), strict=True)):
        (dump / folder).mkdir(parents=True, exist_ok=True)
        exif = Image.Exif()
        exif[0x0110] = "Brattholm Tarn"
        exif.get_ifd(0x8769)[0x9003] = f"2026:05:02 1{2 - n}:00:00"
        Image.new("RGB", (1200 + 300 * n, 800 + 200 * n)).save(dump / folder / f"{name}.JPG", exif=exif)
    (dump / "keep.txt").write_text("\n".join(NAMES), encoding="utf-8")
    return dump


@pytest.fixture
def page(browser: Any, dump: Path, tmp_path: Path) -> Iterator[Any]:
    """The print desk of a report of the three; a message on the console fails the test."""
    run = report.write(audit(dump, pixels="off"), tmp_path / "out").run
    context = browser.new_context(viewport={"width": 1400, "height": 900}, accept_downloads=True)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto((run / "print.html").as_uri())
    yield page
    context.close()
    assert said == []


def saved(page: Any, name: str) -> str:
    with page.expect_download() as told:
        page.click(f"button[data-save='{name}']")
    assert told.value.suggested_filename == name
    return Path(told.value.path()).read_text(encoding="utf-8")


def frames(page: Any) -> list[str]:
    found: list[str] = page.locator(".print-item th a").all_inner_texts()
    return found


def test_pick_save_audit_again_order(page: Any, dump: Path) -> None:
    assert frames(page) == [*reversed(NAMES)]  # by time, not by folder
    page.uncheck(".print-item:has-text('TARN0103') input")
    assert page.inner_text("output").startswith("2 of 3 pictures, 2 prints")
    words = saved(page, "keep.txt")
    assert words == "Day #2/TARN0102.JPG\nTARN0101.JPG\n"
    before = (dump / "keep.txt").read_text(encoding="utf-8")
    (dump / "keep.txt").write_text(words, encoding="utf-8")
    try:
        again = audit(dump, pixels="off")
    finally:
        (dump / "keep.txt").write_text(before, encoding="utf-8")
    assert again.mistakes == ()
    *lines, total = csv.DictReader(io.StringIO(orders_text(again)))
    assert [line["path"] for line in lines] == words.split("\n")[:2]
    assert (total["line"], total["copies"]) == ("total", "2")


def test_what_is_chosen_stands_in_the_address_and_in_the_order(page: Any) -> None:
    page.select_option("select[name=paper]", "130x180")
    page.select_option("select[name=ppi]", "180")
    page.select_option("select[name=edge]", "5")
    page.fill("input[name=copies]", "3")
    page.locator("input[name=copies]").blur()
    page.uncheck(".print-item:has-text('TARN0102') input")
    address = page.url
    assert address.endswith("#paper=130x180&ppi=180&edge=5&copies=3&without=2")
    page.reload()
    assert page.input_value("select[name=ppi]") == "180" and page.url == address
    sheet = saved(page, "orders.csv")
    *lines, total = csv.DictReader(io.StringIO(sheet))
    assert tuple(lines[0]) == HEADER
    assert [(line["file"], line["copies"], line["border_mm"]) for line in lines] == [
        ("TARN0103.JPG", "3", "5"),
        ("TARN0101.JPG", "3", "5"),
    ]
    # 170 mm long by the border; 1800 px are then 269 ppi, 1200 px no more than 179.
    assert [(line["print_width_mm"], line["ppi"]) for line in lines] == [("170.0", "269"), ("170.0", "179")]
    assert [line["remark"] for line in lines] == ["", "fewer than 180 ppi"]
    assert (total["copies"], total["job"]) == ("6", lines[0]["job"])
    assert "1 below the ppi asked" in page.inner_text("output")


def test_the_job_number_is_the_same_in_both(page: Any) -> None:
    rows = list(csv.reader(io.StringIO(saved(page, "orders.csv"))))[1:]
    assert {row[0] for row in rows} == {job_number([["", *row[1:]] for row in rows])}


def test_a_mat_hides_three_millimetres_a_side(page: Any) -> None:
    page.select_option("select[name=edge]", "mat")
    size = page.locator(".print-item:has-text('TARN0101') .print-size").inner_text()
    assert "10.2 × 6.8 cm" in size and "window 9.6 × 6.2 cm" in size


def test_without_script_the_sizes_at_300_ppi_are_there(browser: Any, page: Any) -> None:
    context = browser.new_context(java_script_enabled=False)
    plain = context.new_page()
    plain.goto(page.url)
    assert plain.locator("form.desk").is_hidden() and plain.locator(".print-pick:visible").count() == 0
    row = plain.locator(".print-item:has-text('TARN0103')").inner_text().replace("\xa0", " ")
    assert "15.2 × 10.2 cm" in row and "300 ppi" in row and "10 × 15 cm" in row
    context.close()


def test_what_is_to_be_acted_on_is_proposed_last_and_said(
    make_trip: Any, make_frame: Any, tmp_path: Path
) -> None:
    proposed = {"kept": "proposed", "kept_why": "the only picture of its setup"}
    trip = make_trip([make_frame(f"TARN010{n}", n, **proposed) for n in range(3)])
    spoilt = Finding("corners", "act", (trip.rows[0]["frame"],), "seen", "expected", "predicted", "advice")
    trip = replace(trip, findings=(spoilt,))
    html = (report.write(trip, tmp_path / "out").run / "print.html").read_text(encoding="utf-8")
    rows = html[html.index("data-prints") :]
    assert rows.index("TARN0102") < rows.index("so proposed last") < rows.index("TARN0100")
    paths = [line["path"] for line in csv.DictReader(io.StringIO(orders_text(trip))) if line["path"]]
    assert [path[-12:-4] for path in paths] == ["TARN0101", "TARN0102", "TARN0100"]
