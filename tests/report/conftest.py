"""A small trip by hand, with everything that may go wrong in it, and a browser where there is one."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from PIL import Image, ImageDraw

from audit.corners.predict import Geometry, predict
from audit.declare.rig import Opening, Rig
from audit.errors import Mistake
from audit.finding import CheckInfo, CheckRun, Finding
from audit.kit.kit import Body, Filter, Holder, Kit, Lens, Ring
from audit.result import Result
from audit.table import columns

SERIAL = "SER3001234"
HOSTILE = '<script>alert(1)</script>"><img src=x onerror=alert(2)>'
RTL = "\u202egnp.exe"
FORMULA = '=HYPERLINK("//x","y")'
CHROMIUM = Path("/usr/bin/chromium")


def jpeg(size: tuple[int, int] = (160, 107), tone: int = 0, **save: Any) -> bytes:
    """A landscape of three tones, as bytes."""
    picture = Image.new("RGB", size, (150 + tone, 170, 200 - tone))
    draw = ImageDraw.Draw(picture)
    wide, high = size
    draw.polygon([(0, high * 0.65), (wide * 0.4, high * 0.3), (wide, high * 0.65)], fill=(96, 104, 92))
    draw.rectangle([0, high * 0.65, wide, high], fill=(120 - tone, 132, 140))
    out = io.BytesIO()
    picture.save(out, "JPEG", **save)
    return out.getvalue()


RINGS = (
    Opening("bore of ring r77", 74.0, 4.0),
    Opening("bore of holder main", 85.0, 11.0, ("bore of main",)),
)
RIG = Rig(
    "worn",
    "ring r77, holder main: n10, g2hard",
    filters=("n10", "g2hard"),
    ring="r77",
    ring_kind="standard",
    holder="main",
    slots=("n10", "g2hard"),
    openings=RINGS,
    even_stops=(9.97, 9.97),
    grad_stops=2.0,
    stops_words="10 stops at the bottom, 12 in the sky",
)
NARROW = Rig(
    "worn", "ring r67, holder main: pol", filters=("pol",), openings=(Opening("bore of ring r67", 52.0, 4.0),)
)
BARE = Rig("bare", "bare lens", stops_words="0 stops")

PLAIN: dict[str, Any] = {
    "folder": "DCIM/100BRAT",
    "formats": "JPEG",
    "size_bytes": 4_000_000,
    "make": "Brattholm",
    "model": "Brattholm Tarn",
    "body_serial": SERIAL,
    "lens": "Sund 16-35 mm f4",
    "lens_serial": SERIAL + "L",
    "exposure_time_s": 30.0,
    "exposure_time_ratio": "30/1",
    "exposure_time_exact_s": 32.0,
    "exposure_time_basis": "third",
    "f_number": 11.0,
    "f_number_exact": 11.3137085,
    "f_number_basis": "third",
    "iso": 100.0,
    "ev100": 2.0,
    "focal_length_mm": 16.0,
    "width_px": 6000,
    "height_px": 4000,
    "orientation": 1,
    "gps_present": False,
    "body": "A",
    "sensor_width_mm": 35.9,
    "sensor_height_mm": 24.0,
    "sensor_err": 0.0,
    "sensor_source": "kit",
    "lens_id": "w16",
    "declaration": "worn",
    "declaration_source": "photographer",
    "declared_in": "DCIM/100BRAT/filters.toml:3",
    "rig": RIG.key,
    "rig_words": RIG.words,
    "filters": list(RIG.filters),
    "even_stops_min": 9.97,
    "even_stops_max": 9.97,
    "grad_stops": 2.0,
    "stops_words": RIG.stops_words,
    "corner": "C1",
    "corner_angle_deg": 53.47,
    "corner_loss_min_stops": 0.0,
    "corner_loss_max_stops": float("inf"),
    "corner_verdict": "at risk",
    "corner_why": "bore of ring r77",
    "corner_assumed": ["pupil depth of w16", "bore of main"],
    "rule_verdict": "not fine",
    "rule_words": "a recessed ring below 24 mm on full frame (24 mm on this sensor)",
    "thumbnail_jpeg": jpeg(),
}


def frame(name: str, minute: int = 0, **changes: Any) -> dict[str, Any]:
    """A row like PLAIN with a name, a time and what differs."""
    folder = changes.get("folder", PLAIN["folder"])
    identity = name if folder == "." else f"{folder}/{name}"
    at = pd.Timestamp("2026-05-02 05:10:03") + pd.Timedelta(minutes=minute)
    return PLAIN | {"frame": identity, "files": [f"{identity}.JPG"], "captured_at": at} | changes


def nothing(name: str, problem: str, **changes: Any) -> dict[str, Any]:
    """A row of a file that could not be read."""
    return {
        "frame": name,
        "folder": ".",
        "files": [name + ".JPG"],
        "problem": problem,
        "declaration": "undeclared",
    } | changes


def table(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Rows as the frame table, with every column and pandas' own nulls."""
    return pd.DataFrame({c.name: c.kind.series(row.get(c.name) for row in rows) for c in columns.ALL})


BARE_FRAME = {
    "declaration": "bare",
    "rig": BARE.key,
    "rig_words": "bare lens",
    "filters": [],
    "grad_stops": 0.0,
    "even_stops_min": 0.0,
    "even_stops_max": 0.0,
    "stops_words": "0 stops",
    "exposure_time_s": 1 / 125,
    "exposure_time_exact_s": 1 / 128,
    "exposure_time_ratio": "1/125",
    "ev100": 14.0,
    "corner": None,
    "corner_verdict": "clear",
    "corner_loss_max_stops": 0.0,
    "corner_assumed": [],
    "corner_why": "nothing in front of the lens",
    "rule_verdict": "silent",
}
UNSAID = {
    "rig": None,
    "rig_words": None,
    "filters": [],
    "stops_words": None,
    "even_stops_min": None,
    "even_stops_max": None,
    "grad_stops": None,
    "rule_verdict": "silent",
    "corner": None,
    "corner_verdict": "not measurable",
    "corner_assumed": [],
    "corner_loss_min_stops": None,
    "corner_loss_max_stops": None,
}
UNDECLARED = UNSAID | {
    "declaration": "undeclared",
    "undeclared_reason": "no span covers it",
    "declaration_source": None,
    "declared_in": None,
    "corner_why": "the rig is undeclared",
}
UNKNOWN = UNSAID | {"declaration": "unknown", "corner_why": "the rig is unknown"}
CUT = {
    "corner": "C2",
    "clean_crop": "600, 400, 4800, 3200",
    "clean_crop_share": 0.64,
    "rig": NARROW.key,
    "rig_words": NARROW.words,
    "corner_verdict": "cut",
    "corner_why": "bore of ring r67",
    "corner_loss_min_stops": float("inf"),
    "stops_words": "pol 1 to 2 = 1 to 2 stops",
    "orientation": 6,
}
LIGHT = {
    "light_min_ev100": 11.97,
    "light_max_ev100": 13.97,
    "scene_light_ev100": 14.0,
    "light_residual_stops": -2.4,
    "light_tolerance_stops": 1.2,
}
SECOND = {"folder": "DCIM/101BRAT", "body": "B", "utc_offset_min": 120, "thumbnail_jpeg": None}


def rows() -> list[dict[str, Any]]:
    return [
        frame("TARN0101", files=["DCIM/100BRAT/TARN0101.JPG", "DCIM/100BRAT/TARN0101.NEF"], **LIGHT),
        frame("TARN0102", 1, notes=["f/0 left out: no aperture"], gps_present=True, light_residual_stops=0.0),
        frame("TARN0103", 2, **BARE_FRAME),
        frame("TARN0104", 3, **CUT),
        frame("TARB0001", 4, **SECOND, declaration_source="estimated"),
        frame("TARB0002", 5, **SECOND, **UNDECLARED),
        frame("TARB0003", 6, **{**SECOND, "thumbnail_jpeg": b"\xff\xd8 no picture"}, **UNKNOWN),
        frame(HOSTILE, 7, folder=".", lens=HOSTILE, model=RTL, notes=[FORMULA, "a\nb"], make=FORMULA),
        nothing(FORMULA, "not an image: " + HOSTILE),
        nothing("caf\\xe9", "empty file", files=["caf\udce9.JPG", "caf\udce9.NEF"]),
    ]


CHECKS = (
    CheckRun(
        CheckInfo(
            "corners",
            "Corners behind the rig",
            "A ring or holder that is too narrow darkens the corners.",
            "cut: 0.5 stop; clear: 0.1 stop",
            "MathWorld, Circle-Circle Intersection",
            "Use a recessed ring.",
            ("rig",),
        ),
        "ran",
        2,
    ),
    CheckRun(
        CheckInfo(
            "exposure-sum",
            "Exposure against filters",
            "Why.",
            "1 stop",
            "common practice, no source",
            "Look.",
            (),
        ),
        "ran",
        1,
    ),
    CheckRun(
        CheckInfo("undeclared", "Undeclared frames", "Why.", "none", "none", "Declare.", ()),
        "not run",
        0,
        "not run: none",
    ),
)


def findings() -> tuple[Finding, ...]:
    at_risk = tuple(f"DCIM/100BRAT/TARN010{n}" for n in (1, 2))
    return (
        Finding(
            "corners",
            "act",
            ("DCIM/100BRAT/TARN0104",),
            "black in the corner",
            "less than 0.5 stop lost",
            "predicted",
            "Use a recessed ring at 16 mm, or crop.",
            "more than 0.5 stop",
            "the 67 ring at 16 mm",
        ),
        Finding(
            "exposure-sum",
            "act",
            at_risk[:1],
            "light of EV100 11.6",
            "light of EV100 14.0, as the bare frames have it",
            "declared",
            "Look at what was worn.",
            "2.4 stops",
        ),
        Finding("corners", "look", at_risk, "nothing to black", "clear", "predicted", "Look.", "", HOSTILE),
        Finding("undeclared", "look", ("DCIM/101BRAT/TARB0002",), "no rig", "one", "declared", "Declare it."),
        Finding("undeclared", "note", ("gone",), RTL, FORMULA, "assumed", "Nothing."),
    )


KIT = Kit(
    place="Skarven",
    body=[
        Body(name="A", model="Brattholm Tarn", serial=SERIAL, sensor_mm=(35.9, 24.0), viewfinder="optical")
    ],
    lens=[Lens(id="w16", exif=("Sund 16-35 mm f4",), thread_mm=77, focal_mm=(16, 35))],
    ring=[Ring(id="r77", thread_mm=77, bore_mm=74)],
    holder=[Holder(id="main", slots=3)],
    filter=[
        Filter(id="n10", kind="neutral", density=3.0),
        Filter(id="g2hard", kind="grad-hard", stops=2),
        Filter(id="n6", kind="neutral", factor=64, gasket=True),
        Filter(id="pol", kind="polariser", round=True),
    ],
)

SEEN = Geometry(16.0, 11.3137085, 35.9, 24.0)
CORNERS = {"C1": predict(RIG, SEEN, KIT.lenses[0]), "C2": predict(NARROW, SEEN, KIT.lenses[0])}


def passed_over(reasons: list[tuple[str, str]]) -> pd.DataFrame:
    return pd.DataFrame(reasons, columns=["path", "reason"], dtype="str")


@pytest.fixture
def result() -> Result:
    return trip()


def trip(frames: list[dict[str, Any]] | None = None) -> Result:
    """The small trip; `frames` in place of its rows."""
    shown = table(rows() if frames is None else frames)
    over = [("._TARN0101.JPG", "shadow file"), ("a.xmp", "sidecar"), ("b.xmp", "sidecar")]
    return Result(
        title="/home/someone/trips/skarven",
        frames=shown,
        passed_over=passed_over(over),
        files_seen=sum(len(f) for f in shown["files"]) + len(over),
        rigs={rig.key: rig for rig in (RIG, NARROW, BARE)},
        corners=CORNERS,
        findings=findings(),
        checks=CHECKS,
        mistakes=(
            Mistake("/home/someone/kit.toml", 12, "filter.stops", "is missing; write one"),
            Mistake("DCIM/filters.toml", 3, "worn.ring", f'"{HOSTILE}" is no ring', "warning"),
        ),
        kit=KIT,
    )


@pytest.fixture(scope="module")
def module_trip() -> Result:
    return trip()


@pytest.fixture
def empty_result() -> Result:
    """An audit of a folder without a picture, kit or declaration."""
    return Result("empty", table([]), passed_over([]), 0, {}, {}, (), (), (), Kit())


@pytest.fixture
def make_trip() -> Callable[[list[dict[str, Any]]], Result]:
    return trip


@pytest.fixture
def make_frame() -> Callable[..., dict[str, Any]]:
    return frame


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Chromium without a head; tests that need it are skipped where it is absent."""
    if not CHROMIUM.exists():
        pytest.skip(f"{CHROMIUM} is absent: the page is not opened in a browser (install chromium)")
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as play:
        opened = play.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        yield opened
        opened.close()
