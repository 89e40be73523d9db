"""Pick on the page, save, audit again: what was picked is what is kept and ordered."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from PIL import Image

from audit import report
from audit.jobs.audit import audit


def test_what_is_picked_on_the_page_is_ordered(browser: Any, tmp_path: Path) -> None:
    dump = tmp_path / "dump"
    (dump / "100").mkdir(parents=True)
    names = ("a.jpg", "100/a.jpg", "100/b.jpg", "100/c.jpg")
    for n, name in enumerate(names):
        with (dump / name).open("wb") as file:
            Image.new("RGB", (60, 40), (n * 40, n, n)).save(file, "JPEG")
    page_file = report.write(audit(dump), tmp_path / "out").run / "frames.html"
    context = browser.new_context(accept_downloads=True)
    page = context.new_page()
    page.goto(page_file.as_uri())
    for name in ("100/a", "b"):
        page.get_by_label(f"pick {name}", exact=True).check()
    with page.expect_download() as download:
        page.click("text=Save keep.txt")
    assert download.value.suggested_filename == "keep.txt"
    download.value.save_as(dump / "keep.txt")
    context.close()
    again = audit(dump)
    assert again.mistakes == ()
    kept = again.frames.dropna(subset=["kept"])
    assert dict(zip(kept["frame"], kept["kept"], strict=True)) == {"100/a": "keep.txt", "100/b": "keep.txt"}
    orders = report.write(again, tmp_path / "out").run / "orders.csv"
    with orders.open(encoding="utf-8-sig", newline="") as file:
        *rows, total = csv.DictReader(file)
    assert [row["path"] for row in rows] == ["100/a.jpg", "100/b.jpg"]
    assert (total["line"], total["copies"]) == ("total", "2")
