"""A camera on the trip: what it can be set to, what it writes, how bright the picture comes out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

import numpy as np

from audit.optics.exposure import ev100, snap_exposure_time, snap_f_number
from benchmarks.world.dial import LONGEST_S, f_setting, nominal_time, step_of
from benchmarks.world.kits import POLARISER_LOSS, Bag, BagBody, BagLens, Glass, Rng
from benchmarks.world.light import Sky, View


@dataclass(frozen=True)
class Setting:
    """What the camera is set to for one frame. `step` None: a bulb time of `bulb_s`."""

    f_wish: float
    iso: int
    step: int | None
    bulb_s: float = 0.0
    program: str = "manual"
    bias: float = 0.0


@dataclass
class Mark:
    """What is true of a frame beyond its exposure."""

    setup: int
    set_kind: str = "none"
    set_id: int = -1
    special: str = "none"


@dataclass
class Shooter:
    """One body and the frames it has taken; `now_s` is UTC seconds from the sky's day."""

    rng: Rng
    bag: Bag
    body: BagBody
    sky: Sky
    now_s: float
    lens: BagLens
    focal_mm: int
    upright: bool = False
    counter: int = 1
    turn: float = 0.5
    place: tuple[float, float] = (0.0, 0.0)
    rows: list[dict[str, Any]] = field(default_factory=list)
    truth: list[dict[str, Any]] = field(default_factory=list)
    pictures: list[float] = field(default_factory=list)

    def filter_loss(self, worn: Sequence[Glass], view: View) -> tuple[float, float, float]:
        """Stops of the neutrals, of neutrals and polariser, and what the meter sees of the grads."""
        neutral = sum(g.true_stops for g in worn if g.kind == "neutral")
        least, most = POLARISER_LOSS
        polariser = least + (most - least) * self.turn if any(g.kind == "polariser" for g in worn) else 0.0
        grads = sum(view.grad_share * g.true_stops for g in worn if g.is_grad)
        return neutral, neutral + polariser, grads

    def reading(self, view: View, worn: Sequence[Glass], error: float = 0.1) -> float:
        """What the meter says now through those filters, EV at ISO 100."""
        _, even, grads = self.filter_loss(worn, view)
        return view.ev100(self.sky, self.now_s, 1.0) - even - grads + float(self.rng.normal(0, error))

    def metered(self, view: View, worn: Sequence[Glass], f: float, iso: int, bias: float) -> Setting:
        """Aperture priority."""
        f_exact = f_setting(f, self.body.per_stop)[1]
        seconds = f_exact**2 / 2.0 ** (self.reading(view, worn) - bias) * 100 / iso
        step = step_of(min(seconds, LONGEST_S), self.body.per_stop)
        return Setting(f, iso, step, program="aperture priority", bias=bias)

    def expose(
        self,
        view: View,
        worn: Sequence[Glass],
        set_to: Setting,
        mark: Mark,
        flash: bool = False,
        mode: str = "",
    ) -> float:
        """Takes one frame and says how bright the picture came out, stops over a normal one."""
        body, rng = self.body, self.rng
        seconds = set_to.bulb_s
        ratio = _measured(seconds)
        if set_to.step is not None:
            seconds, ratio = 2.0 ** (set_to.step / body.per_stop), nominal_time(set_to.step, body.per_stop)
        f_name, f_exact = f_setting(set_to.f_wish, body.per_stop)
        light = view.ev100(self.sky, self.now_s, seconds)
        neutral, even, grads = self.filter_loss(worn, view)
        true_ev = math.log2(f_exact**2 / seconds) - math.log2(set_to.iso / 100)
        bright = light - even - grads - true_ev
        if flash:
            bright = float(np.logaddexp2(bright, rng.normal(-0.5, 0.6)))
        shown = _rendered(bright + view.rendering + float(rng.normal(0, 0.12)))
        self._write(set_to, ratio, f_name, seconds, flash, mode)
        losses = {"neutral_stops": neutral, "even_stops": even, "grad_stops": grads}
        lights = {"light_ev100": light, "true_ev100": true_ev, "bright_stops": bright}
        self.truth.append({**self._true(worn, set_to, seconds), **losses, **lights, **asdict(mark)})
        no_picture = body.raw_only or rng.random() < 0.03
        self.pictures.append(math.nan if no_picture else shown)
        self.now_s += seconds + float(rng.uniform(0.3, 1.2))
        return bright

    def _true(self, worn: Sequence[Glass], set_to: Setting, seconds: float) -> dict[str, Any]:
        """What was worn and how it was set."""
        return {
            "ids": tuple(g.id for g in worn),
            "label_stops": sum(g.label_stops for g in worn if g.kind == "neutral"),
            "body": self.body.name,
            "start_s": self.now_s,
            "seconds": seconds,
            "focal_mm": self.focal_mm,
            "metered": set_to.program != "manual",
            "bias": set_to.bias,
        }

    def _write(
        self, set_to: Setting, ratio: Fraction, f_name: float, seconds: float, flash: bool, mode: str
    ) -> None:
        body = self.body
        name = f"AU{body.name}_{self.counter:04d}"
        written = float(ratio)
        exact, basis = snap_exposure_time(written)
        f_exact, f_basis = snap_f_number(f_name)
        told_mode = mode or ("manual" if set_to.program == "manual" else "auto")
        width, height = body.pixels
        row: dict[str, Any] = {
            "frame": f"{body.name}/{name}",
            "folder": body.name,
            "counter": self.counter,
            **_files(body, name),
            "make": "Aurin",
            "model": body.model,
            "lens": self.lens.exif,
            "lens_focal_min_mm": self.lens.focal_mm[0],
            "lens_focal_max_mm": self.lens.focal_mm[1],
            "exposure_time_s": written,
            "exposure_time_ratio": str(ratio),
            "exposure_time_exact_s": exact,
            "exposure_time_basis": basis,
            "f_number": f_name,
            "f_number_exact": f_exact,
            "f_number_basis": f_basis,
            "iso": float(set_to.iso),
            "iso_source": "EXIF ISOSpeedRatings",
            "ev100": float(ev100(f_exact, exact, float(set_to.iso))),
            "exposure_bias_stops": float(set_to.bias) if body.writes_bias else None,
            "exposure_program": set_to.program,
            "exposure_mode": told_mode if body.writes_mode else None,
            "metering": "pattern",
            "white_balance": "auto",
            "flash_fired": flash,
            "focal_length_mm": float(self.focal_mm),
            "width_px": width,
            "height_px": height,
            "orientation": 8 if self.upright else 1,
            **self._when(seconds),
        }
        self.rows.append(row)
        self.counter += 1

    def _when(self, seconds: float) -> dict[str, Any]:
        """Time stamp and position as this body writes them."""
        body, rng = self.body, self.rng
        utc = datetime.combine(self.sky.day, datetime.min.time()) + timedelta(seconds=round(self.now_s, 2))
        ahead = timedelta(seconds=body.clock_ahead_s + (seconds if body.stamps_end else 0.0))
        stamp: datetime | None = utc + ahead + timedelta(minutes=self.bag.offset_min)
        if stamp is not None and body.whole_seconds:
            stamp = stamp.replace(microsecond=0)
        if rng.random() < body.loses_time:
            stamp = None
        found: dict[str, Any] = {
            "captured_at": stamp,
            "utc_offset_min": self.bag.offset_min if body.writes_offset and stamp is not None else None,
            "gps_present": body.has_gps,
        }
        if body.has_gps:
            north, east = (float(x) for x in rng.normal(0, 5 / 111_000, size=2))
            found["latitude_deg"], found["longitude_deg"] = self.place[0] + north, self.place[1] + east
            found["gps_at"] = utc.replace(microsecond=0)
        return found


def _measured(seconds: float) -> Fraction:
    """A time off the dial as a body writes it: tenths of a second, or one over a whole number."""
    return (
        Fraction(round(seconds * 10), 10)
        if seconds >= 1
        else Fraction(1, max(round(1 / max(seconds, 1e-5)), 1))
    )


def _files(body: BagBody, name: str) -> dict[str, Any]:
    endings = ["DNG"] if body.raw_only else ["DNG", "JPG"]
    return {
        "files": [f"{body.name}/{name}.{ending}" for ending in endings],
        "formats": "+".join("raw" if e == "DNG" else "jpeg" for e in endings),
        "copies": [],
        "notes": [],
        "notes_about": [],
        "size_bytes": 20_000_000 + sum(map(ord, name)),
    }


def _rendered(stops: float) -> float:
    """Bright pictures clip, dark ones sink into the floor: the mean can't follow."""
    if stops > 1.5:
        return 1.5 + 1.2 * (1 - math.exp(-(stops - 1.5) / 1.2))
    if stops < -4:
        return -4 - 1.5 * (1 - math.exp((stops + 4) / 1.5))
    return stops
