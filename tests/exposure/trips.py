"""Random trips as tables: what scan, gear and join would give, with the truth beside it."""

from dataclasses import dataclass
from math import log2

import numpy as np
import pandas as pd
from kits import some_kit
from shooting import Habits, Setup
from weather import Weather

from audit.optics.sky import expected_ev100
from audit.table.columns import GEAR, JOIN, SCAN

SPAN_DECLARED = 0.5
LATE_BORDER = 0.04
NO_TIME = 0.01
LENSES = (("Sund 16-35 mm f4", (16.0, 20.0, 24.0, 35.0)), ("Sund 24-70 mm f2.8", (24.0, 35.0, 50.0, 70.0)))


@dataclass(frozen=True)
class Trip:
    """`frames` as the code sees them, `truth` by the same rows, what an ablation adds."""

    frames: pd.DataFrame
    truth: pd.DataFrame
    kit: object
    sky: tuple
    rendered_stops: np.ndarray


def trip(seed, *, habits=None, days=None, filters=None):
    """One trip of one to three days."""
    rng = np.random.default_rng(seed)
    habits = habits or Habits()
    kit, true = some_kit(rng, filters)
    rows = []
    bodies = ["A", "B"] if rng.random() < 0.5 else ["A"]
    start = pd.Timestamp("2026-03-01") + pd.Timedelta(days=int(rng.integers(0, 200)))
    for day in range(int(rng.integers(1, 4)) if days is None else days):
        weather = Weather(rng, habits.faster)
        for body in bodies:
            worn, free_at = (), 0.0
            for minute in _sessions(rng, weather):
                anchor, minute = minute, max(minute, free_at)
                for _ in range(int(rng.integers(2, 7))):
                    setup = Setup(rng, weather, kit, true, habits, minute, worn, anchor)
                    _work(setup)
                    rows += _rows(rng, setup, kit, body, start + pd.Timedelta(days=day))
                    worn = setup.worn if rng.random() < 0.3 else ()
                    if setup.worn and not worn and rng.random() < habits.leaves_on:
                        worn = setup.worn
                    minute = setup.minute + float(rng.choice([rng.uniform(1, 6), rng.uniform(5, 40)]))
                worn, free_at = (), minute
    return _trip(rng, rows, kit)


def _sessions(rng, weather):
    """Minutes of the day at which he goes out: dawn, by day, dusk, into the night."""
    times = []
    if rng.random() < 0.6:
        times.append(weather.minute_of(rng.uniform(-8, 3), rising=True))
    if rng.random() < 0.6:
        times.append(float(rng.uniform(600, 900)))
    if rng.random() < 0.8 or not times:
        times.append(weather.minute_of(rng.uniform(-1, 8), rising=False))
    return times


def _work(setup):
    """What happens at one setup."""
    rng = setup.rng
    kind = rng.choice(["plain", "filters", "handheld"], p=[0.3, 0.5, 0.2])
    if setup.light() < 1:  # in the dark he leaves the filters in the bag
        setup.change(())
        kind = "plain"
    if kind == "handheld":
        setup.manual = False
        setup.change(tuple(i for i in setup.worn if i == "pol") if rng.random() < 0.9 else setup.worn)
        for _ in range(int(rng.integers(2, 12))):
            setup.frame("handheld", handheld=True)
            setup.wait(2, 60)
            setup.offset += rng.normal(0, 0.5)
        return
    if setup.worn and rng.random() < 0.4:
        setup.change(())
    if kind == "plain":
        for _ in range(int(rng.integers(1, 7))):
            _take(setup)
        return
    if rng.random() < 0.75:
        setup.change(())
        for _ in range(int(rng.integers(1, 4))):
            _take(setup)
    for _ in range(int(rng.choice([1, 2, 3], p=[0.6, 0.3, 0.1]))):
        setup.change(
            next((ids for ids in (_choose(rng, setup) for _ in range(4)) if setup.sensible(ids)), ())
        )
        if setup.strong() and rng.random() < 0.4:
            setup.trial()
        for _ in range(int(rng.integers(1, 6))):
            _take(setup)
    if rng.random() < 0.35:
        setup.change(())
        for _ in range(int(rng.integers(1, 3))):
            _take(setup)


def _take(setup):
    if setup.rng.random() < 0.15 and setup.quick():
        setup.bracket()
    else:
        setup.frame()
    setup.wait(3, 40)


def _choose(rng, setup):
    """Another set of filters that the holder takes."""
    slots = setup.kit.holders[0].slots
    items = list(setup.items.values())
    neutrals = [f.id for f in items if f.kind == "neutral"]
    grads = [f.id for f in items if f.is_grad]
    number = min(int(rng.choice([0, 1, 2], p=[0.15, 0.73, 0.12])), len(neutrals), slots)
    chosen = list(rng.choice(neutrals, number, replace=False)) if number else []
    if grads and len(chosen) < slots and rng.random() < 0.35:
        chosen.append(str(rng.choice(grads)))
    if "pol" in setup.items and rng.random() < 0.25:
        chosen.append("pol")
    return tuple(sorted(str(c) for c in chosen))


def _rows(rng, setup, kit, body, day):
    """Rows of one setup with truth (names in capitals) and declarations."""
    lens, focals = LENSES[int(rng.integers(0, 2))]
    focal, orientation = float(rng.choice(focals)), int(rng.choice([1, 1, 6]))
    rows = []
    for shot in setup.shots:
        ev = log2(shot.f_number**2 / shot.time_s) - log2(shot.iso / 100)
        sky = float(expected_ev100(setup.weather.altitude_deg(shot.minute)))
        rows.append(
            {
                "captured_at": day + pd.Timedelta(seconds=round(shot.minute * 60)),
                "exposure_time_s": shot.time_s,
                "exposure_time_exact_s": shot.time_s,
                "f_number": shot.f_number,
                "f_number_exact": shot.f_number,
                "iso": shot.iso,
                "ev100": ev,
                "exposure_bias_stops": shot.bias,
                "exposure_program": shot.program,
                "exposure_mode": "auto bracket"
                if shot.auto_bracket
                else ("manual" if shot.program == "manual" else "auto"),
                "focal_length_mm": focal,
                "orientation": orientation,
                "lens": lens,
                "body": body,
                "model": "Brattholm Tarn" if body == "A" else "Brattholm Beck",
                "WORN": shot.worn,
                "KIND": shot.kind,
                "SKY": sky,
                "RENDERED": shot.rendered,
                "LIGHT": shot.light,
                "SETUP": f"{body} {day:%d} {setup.shots[0].minute:.3f}",
            }
        )
    _declare(rng, rows, kit)
    return rows


def _declare(rng, rows, kit):
    """In half of the setups some frames in a row are declared; now and then a border comes late."""
    if not rows or rng.random() > SPAN_DECLARED:
        return
    first = int(rng.integers(0, len(rows)))
    last = min(first + int(rng.integers(0, max(len(rows) // 2, 1))), len(rows) - 1)
    late = rng.random() < LATE_BORDER
    said = rows[first]["WORN"]
    for at in range(first, last + 1):
        if not (late and rows[at]["WORN"] != said and at < first + 3):
            said = rows[at]["WORN"]
        items = [kit.filter(i) for i in said]
        even = [f.loss_stops for f in items if not f.is_grad]
        rows[at] |= {
            "declaration": "worn" if said else "bare",
            "declaration_source": "photographer",
            "filters": list(said),
            "rig": " ".join(said) or "bare",
            "even_stops_min": sum(low for low, _ in even),
            "even_stops_max": sum(high for _, high in even),
            "grad_stops": sum(f.loss_stops[1] for f in items if f.is_grad),
        }


def _trip(rng, rows, kit):
    counters = {"A": 9900, "B": 100}
    rows.sort(key=lambda r: (r["body"], r["captured_at"]))
    for row in rows:
        body = row["body"]
        counters[body] += 1
        folder = f"{100 + counters[body] // 10000}BRAT{body}"
        number = counters[body] % 10000
        row |= {"folder": folder, "counter": number, "frame": f"{folder}/TAR{body}{number:04d}"}
        row.setdefault("declaration", "undeclared")
        if rng.random() < NO_TIME:
            row["captured_at"], row["SKY"] = None, np.nan
    truth = pd.DataFrame({k.lower(): [r[k] for r in rows] for k in ("WORN", "KIND", "LIGHT", "SETUP")})
    truth["neutral"] = [
        sum(kit.filter(i).loss_stops[0] for i in r["WORN"] if kit.filter(i).kind == "neutral") for r in rows
    ]
    truth["declared"] = [r["declaration"] != "undeclared" for r in rows]
    truth["setup_declared"] = truth.groupby("setup")["declared"].transform("any")
    sky = np.array([r["SKY"] for r in rows])
    rendered = np.array([r["RENDERED"] for r in rows])
    return Trip(_table(rows), truth, kit, (sky, np.zeros(len(sky))), rendered)


def _table(rows):
    """Every column of scan, gear and join."""
    frames = pd.DataFrame(
        {c.name: c.kind.series(row.get(c.name) for row in rows) for c in (*SCAN, *GEAR, *JOIN)}
    )
    return frames.assign(flash_fired=pd.Series(False, index=frames.index, dtype="boolean"))
