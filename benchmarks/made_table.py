"""What the reader gives for a trip of any length, without files: many days, two bodies, many setups.

Every setup starts bare and goes on behind filters, as in the field; what was worn is declared in the folder
of its day for nine runs in ten, by names of files. All is drawn from one seed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from math import log2, pi, sin
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pandas as pd

import audit.scan
from audit.demo.kit_file import KIT
from audit.optics.exposure import snap_exposure_time, snap_f_number
from audit.optics.sky import expected_ev100
from audit.scan import Scan
from audit.scan.folder import Entry
from audit.scan.reader import HEAD_SUM, Row

SETUPS_A_DAY = 30
RUN_FRAMES = (2, 3, 4, 6, 9)
"""Frames of one run: one setup with one set of filters."""
WORN = {"n3": 3.0, "n6": 6.0, "n10": 10.0, "n6+g2soft": 6.0, "pol": 1.5}
BRACKETS, BRACKET = 0.1, (-2.0, 0.0, 2.0)
"""Share of the runs that are a bracket, and its compensations."""
DECLARED, WRONG = 0.9, 0.02
"""Share of the runs that are declared, and of those that are declared as something else."""
BODIES = (("Brattholm Tarn", "3001234", "TARN"), ("Brattholm Beck", "5107780", "BECK"))
LENSES = (
    ("Sund 16-35 mm f4", (16.0, 18.0, 20.0, 24.0, 35.0)),
    ("Sund 24-70 mm f2.8", (24.0, 35.0, 50.0, 70.0)),
    (None, (None,)),  # an old one without contacts
)
LENS_SHARES = (0.6, 0.37, 0.03)
F_NUMBERS = (5.6, 8.0, 11.0, 13.0, 16.0)
THUMBNAIL_BYTES = 4_000


@dataclass(frozen=True)
class Made:
    """Files as the walk finds them, what is read of each, and by their paths the texts of the files beside.

    The rows are for one scan, which changes them.
    """

    entries: list[Entry]
    rows: list[Row]
    files: dict[str, str]

    def write(self, folder: Path) -> None:
        """Puts kit and declarations, and no picture, into a folder for `load`."""
        for name, text in self.files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")

    def scanned(self, folder: Path) -> Scan:
        """What the scan makes of them, as if they lay in the folder."""
        with patch.object(audit.scan, "walked", lambda *_: self.entries):
            return audit.scan.scan(folder, read=lambda _: iter(self.rows))


def made_trip(frames: int, seed: int = 22) -> Made:
    """A trip of so many frames."""
    lines: dict[str, list[str]] = defaultdict(list)
    entries, rows = [], []
    for file, row in islice(_trip(np.random.default_rng(seed), lines), frames):
        entries.append(Entry(Path("/made") / file, file, "picture", role="picture"))
        rows.append(row)
    declared = {
        f"{folder}/filters.toml": "\n".join(["[frames]", *said, ""]) for folder, said in lines.items()
    }
    return Made(entries, rows, {"kit.toml": KIT, **declared})


def _trip(rng: np.random.Generator, lines: dict[str, list[str]]) -> Iterator[tuple[str, Row]]:
    """Files and their rows day by day without end; what was worn goes into `lines` by folder."""
    counters = [0] * len(BODIES)
    day = pd.Timestamp("2000-01-01")
    while True:
        minute, weather = 300.0, 0.0
        for _ in range(SETUPS_A_DAY):
            minute, weather = minute + rng.uniform(12, 45), weather + rng.normal(0, 0.5)
            body = int(rng.random() < 0.25)
            folder = f"{day:%Y-%m-%d}/{100 + body}BRAT"
            setup = _setup(rng, body)
            for said in _worn(rng):
                first = counters[body] % 9999 + 1
                biases = BRACKET if rng.random() < BRACKETS else (0.0,) * int(rng.choice(RUN_FRAMES))
                for bias in biases:
                    counters[body] = counters[body] % 9999 + 1
                    light = float(expected_ev100(55 * sin(pi * (minute - 360) / 720))) + weather
                    row = _frame(rng, setup, light - WORN.get(said, 0.0), bias)
                    minute += (0.02 if bias else rng.uniform(0.1, 0.8)) + row["exposure_time_s"] / 60
                    file = f"{folder}/{BODIES[body][2]}{counters[body]:04d}.JPG"
                    yield file, row | _of_file(rng, day + pd.Timedelta(minutes=minute))
                if rng.random() < DECLARED:
                    worn = said if rng.random() >= WRONG else str(rng.choice([*WORN, "bare"]))
                    name = BODIES[body][2]
                    lines[folder].append(f'"{name}{first:04d}..{name}{counters[body]:04d}" = "{worn}"')
        day += pd.Timedelta(days=1)


def _worn(rng: np.random.Generator) -> list[str]:
    """What is worn at a setup, one after the other."""
    return ["bare", *rng.choice(list(WORN), int(rng.choice([0, 1, 2], p=[0.4, 0.45, 0.15])), replace=False)]


def _setup(rng: np.random.Generator, body: int) -> Row:
    """What does not change at one place."""
    lens, focals = LENSES[int(rng.choice(len(LENSES), p=LENS_SHARES))]
    f_number = None if lens is None else float(rng.choice(F_NUMBERS))
    exact, basis = (None, None) if f_number is None else snap_f_number(f_number)
    model, serial, _ = BODIES[body]
    return {
        "make": "Brattholm",
        "model": model,
        "body_serial": serial,
        "serial_from": "BodySerialNumber",
        "lens": lens,
        "lens_from": lens and "LensModel",
        "focal_length_mm": rng.choice(focals),
        "lens_focal_min_mm": lens and focals[0],
        "lens_focal_max_mm": lens and focals[-1],
        "f_number": f_number,
        "f_number_exact": exact,
        "f_number_basis": basis,
        "iso": 100.0,
        "iso_source": "PhotographicSensitivity",
        "orientation": int(rng.choice([1, 1, 8])),
        "width_px": 6000,
        "height_px": 4000,
        "bit_depth": 8,
        "colour_profile": "sRGB",
        "exposure_program": "aperture priority",
        "metering": "pattern",
        "white_balance": "fixed",
        "flash_fired": False,
        "formats": "JPEG",
        "focal_plane_width_mm": 35.9,
        "focal_plane_height_mm": 24.0,
        "utc_offset_min": 120,
    }


def _frame(rng: np.random.Generator, setup: Row, light_ev100: float, bias: float) -> Row:
    """One exposure in that light, in thirds of a stop."""
    opening = 2 * log2(setup["f_number_exact"] or 8.0)
    stops = round(3 * (opening - light_ev100 + bias + rng.normal(0, 0.15))) / 3
    written = float(f"{min(2.0**stops, 1200.0):.3g}")
    exact, basis = snap_exposure_time(written)
    return {
        **setup,
        "exposure_time_s": written,
        "exposure_time_exact_s": exact,
        "exposure_time_basis": basis,
        "exposure_time_ratio": f"{written:g}",
        "gps_present": False,
        "exposure_bias_stops": bias,
        "exposure_mode": "auto bracket" if bias else "auto",
    }


def _of_file(rng: np.random.Generator, at: pd.Timestamp) -> Row:
    """Time and bytes of one file."""
    return {
        "captured_at": at.floor("10ms").to_pydatetime(),
        "size_bytes": int(rng.integers(6e6, 9e6)),
        "thumbnail_jpeg": rng.bytes(THUMBNAIL_BYTES),
        HEAD_SUM: int(rng.integers(2**32)),
        "preview_offset": 30_000,
        "preview_bytes": 90_000,
        "notes": [],
        "problem": None,
    }
