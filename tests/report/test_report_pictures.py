"""Larger views and corners at full size: which frames have them, what their pages hold, where links lead."""

from __future__ import annotations

import hashlib
import re
import sys
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from click.testing import CliRunner

from audit import report
from audit.disk.dumps import Dumps
from audit.report import pictures
from audit.report.original_links import ways
from audit.report.picture_plan import A_FINDING, SIDE_BY_SIDE, Wish, plan
from audit.result import Result

sys.path.insert(0, str(Path(__file__).parents[1] / "pictures"))
from marked import HELD, colour_at, held, jpeg

Rows = list[dict[str, Any]]


class Attributes(HTMLParser):
    """The names of all attributes of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.names: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names |= {name for name, _ in attrs}


def taken(result: Result, dump: Path) -> Result:
    """The same audit, its photographs in a folder."""
    for row in result.rows:
        for file in row["files"]:
            (dump / file).parent.mkdir(parents=True, exist_ok=True)
            if row["problem"] is None and file.endswith(".JPG"):
                (dump / file).write_bytes(jpeg(held(), int(row["orientation"])))
    return replace(result, dump=dump, pixels="preview")


@pytest.fixture
def trip(result: Result, tmp_path: Path) -> Result:
    return taken(result, tmp_path / "trips" / "skarven # 1")


def views(run: Path) -> dict[str, str]:
    return {f.stem: f.read_text(encoding="utf-8") for f in (run / "views").glob("*.html")}


def named(result: Result, *names: str) -> list[int]:
    frames = list(result.frames["frame"])
    return [frames.index(f"DCIM/100BRAT/{name}") for name in names]


def test_what_was_found_is_planned_and_the_corners_of_what_is_cut(result: Result) -> None:
    found = plan(result.rows, result.findings, "found")
    first, second, bare, cut = named(result, "TARN0101", "TARN0102", "TARN0103", "TARN0104")
    assert {first, second, cut} <= set(found.corners)
    assert found.corners[first] is None, "no bare frame of its setup"
    assert bare not in found.corners
    assert set(found.corners) <= found.full
    lost = [n for n, row in enumerate(result.rows) if row["problem"] is not None]
    assert not set(lost) & set(found.larger)


def test_all_and_none(result: Result) -> None:
    whole = plan(result.rows, result.findings, "all")
    assert set(whole.larger) == {n for n, row in enumerate(result.rows) if row["problem"] is None}
    assert plan(result.rows, result.findings, "none").larger == ()


def test_the_bare_frame_of_the_setup_nearest_in_time_stands_beside(
    make_trip: Callable[[Rows], Result], make_frame: Callable[..., dict[str, Any]]
) -> None:
    bare = {"declaration": "bare", "corner_verdict": "clear", "setup": "S"}
    rows = [
        make_frame("A", 0, **bare),
        make_frame("B", 10, setup="S"),
        make_frame("C", 12, **bare),
        make_frame("D", 11, **bare, focal_length_mm=35.0),
        make_frame("E", 11, **bare, orientation=6),
        make_frame("F", 11, **(bare | {"setup": "T"})),
    ]
    assert plan(make_trip(rows).rows, (), "found").corners == {1: 2}
    rows[1]["pair_with"] = "DCIM/100BRAT/A"
    assert plan(make_trip(rows).rows, (), "found").corners == {1: 0}


def test_a_kept_frame_stands_in_a_row_with_its_setup(
    make_trip: Callable[[Rows], Result], make_frame: Callable[..., dict[str, Any]]
) -> None:
    clear = {"corner_verdict": "clear"}
    rows = [make_frame(f"A{n}", n, setup="S", **clear) for n in range(8)]
    rows += [make_frame(f"B{n}", 20 + n, setup="T", kept="proposed", **clear) for n in range(3)]
    rows[7]["kept"] = "keep.txt"
    found = plan(make_trip(rows).rows, (), "found")
    assert found.beside[7] == (0, 1, 2, 3, 4, 7) and len(found.beside[7]) == SIDE_BY_SIDE
    assert set(found.beside) == set(found.beside[7]) == set(found.full)
    assert {8, 9, 10} <= set(found.larger), "what is proposed has a view, and is not decoded whole"


def test_a_finding_on_the_whole_trip_does_not_show_it_all(
    make_trip: Callable[[Rows], Result], make_frame: Callable[..., dict[str, Any]]
) -> None:
    rows = [make_frame(f"A{n}", n, corner_verdict="clear") for n in range(40)]
    result = make_trip(rows)
    finding = replace(result.findings[3], frames=tuple(result.frames["frame"]))
    assert len(plan(result.rows, (finding,), "found").larger) == A_FINDING


def test_the_corners_on_a_page_are_those_of_its_frame(trip: Result, tmp_path: Path) -> None:
    """From files of orientation 1 and 6 to the pictures that the page names, in its order."""
    run = report.write(trip, tmp_path / "trips" / "report").run
    pages = views(run)
    for place in named(trip, "TARN0101", "TARN0104"):
        page = pages[str(place + 1)]
        section = page[page.index('id="corners"') :]
        shown = re.findall(r'<img src="\.\./(pictures/c[^"]+)"', section)
        colours = [colour_at((run / uri).read_bytes(), n % 2, n // 2) for n, uri in enumerate(shown)]
        assert colours == list(HELD)
        assert "pixel for pixel" in section


def test_every_address_leads_somewhere(trip: Result, tmp_path: Path) -> None:
    run = report.write(trip, tmp_path / "trips" / "report").run
    pages = [*run.glob("*.html"), *(run / "views").glob("*.html")]
    anchors = {f.resolve(): set(re.findall(r'id="([^"]+)"', f.read_text(encoding="utf-8"))) for f in pages}
    lost = {f"{row['files'][0]}" for row in trip.rows if row["problem"] is not None}
    for file in pages:
        for address in re.findall(r'(?:href|src)="([^"]+)"', file.read_text(encoding="utf-8")):
            path, _, anchor = address.partition("#")
            place = (file.parent / unquote(path)).resolve() if path else file.resolve()
            if place.name in {Path(name).name for name in lost} or "caf" in path or place.suffix == ".NEF":
                continue
            assert place.exists(), (file.name, address)
            assert not anchor or anchor in anchors[place], (file.name, address)


def test_the_way_to_a_file_is_encoded_and_tells_no_folder_but_the_dump(trip: Result, tmp_path: Path) -> None:
    run = report.write(trip, tmp_path / "trips" / "report").run
    page = views(run)[str(named(trip, "TARN0101")[0] + 1)]
    assert "../../../skarven%20%23%201/DCIM/100BRAT/TARN0101.JPG" in page
    for file in (*run.glob("*.html"), *(run / "views").glob("*.html")):
        assert str(tmp_path) not in file.read_text(encoding="utf-8")


def test_no_way_where_it_would_name_another_folder(tmp_path: Path) -> None:
    dump = tmp_path / "a" / "dump"
    dump.mkdir(parents=True)
    assert ways(dump, tmp_path / "a" / "report" / "run-0001").to("x y.JPG") == "../../dump/x%20y.JPG"
    assert ways(dump, dump / "report" / "run-0001").to("x.JPG") == "../../x.JPG"
    assert ways(dump, tmp_path / "report" / "run-0001").to("x.JPG") == ""
    assert ways(dump, tmp_path / "b" / "report").to("x.JPG") == ""
    assert ways(Path("/"), tmp_path).to("x.JPG") == ""
    assert ways(None, tmp_path).to("x.JPG") == ""
    other = tmp_path / "b" / "card"
    other.mkdir(parents=True)
    two = ways(Dumps({"dump": dump, "card": other}), tmp_path / "a" / "report")
    assert two.to("dump/1/a.JPG") == "../dump/1/a.JPG" and two.to("card/a.JPG") == ""
    strange = ways(dump, tmp_path / "a" / "r")
    assert strange.to('javascript:alert(1)"<ø>.JPG') == "../dump/javascript%3Aalert%281%29%22%3C%C3%B8%3E.JPG"
    assert strange.to("a\\u202egnp.JPG") == "", "an escaped name is not the file's"


def test_nothing_is_shown_larger_without_a_dump_or_a_wish(trip: Result, tmp_path: Path) -> None:
    for n, result in enumerate((trip, replace(trip, pixels="off"), replace(trip, dump=None))):
        wish: Wish | None = "none" if n == 0 else None
        placed = report.write(result, tmp_path / "trips" / f"report-{n}", pictures=wish)
        assert not (placed.run / "views").exists()
    assert not (report.write(trip, tmp_path / "trips" / "one", single=True).run / "views").exists()


def test_no_photograph_is_changed(trip: Result, tmp_path: Path) -> None:
    def sums() -> dict[str, str]:
        files = (f for f in (tmp_path / "trips" / "skarven # 1").rglob("*") if f.is_file())
        return {str(f): hashlib.sha256(f.read_bytes()).hexdigest() for f in files}

    before = sums()
    report.write(trip, tmp_path / "trips" / "report", pictures="all")
    assert sums() == before and before


def test_the_weight_has_a_limit_that_is_told(
    trip: Result, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pictures, "MOST_FOUND_BYTES", 20_000)
    run = report.write(trip, tmp_path / "trips" / "report").run
    assert 0 < len(views(run)) < 4
    day = (run / "2026-05-02.html").read_text(encoding="utf-8")
    assert "No larger view" in day and "MB at most" in day
    run = report.write(trip, tmp_path / "trips" / "report", pictures="all").run
    assert len(views(run)) == 8


def test_the_command_has_the_choice(tmp_path: Path) -> None:
    from audit.cli.audit import audit_command

    (tmp_path / "dump").mkdir()
    (tmp_path / "dump" / "a.JPG").write_bytes(jpeg(held()))
    for wish, count in (("all", 1), ("none", 0)):
        out = tmp_path / f"out-{wish}"
        args = [str(tmp_path / "dump"), "--out", str(out), "--pictures", wish, "--no-cache", "-q"]
        CliRunner().invoke(audit_command, args)
        assert len(list(out.glob("run-0001/views/*.html"))) == count


def test_the_page_has_no_script_and_asks_for_nothing(trip: Result, tmp_path: Path) -> None:
    run = report.write(trip, tmp_path / "trips" / "report", pictures="all").run
    for page in views(run).values():
        assert "<script" not in page and "default-src 'none'" in page and "script-src" not in page
        told = Attributes()
        told.feed(page)
        assert not {name for name in told.names if name == "style" or name.startswith("on")}
