"""What a photographer does to calibrate: rings, frames, and what he writes into kit.toml and filters.toml."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from benchmarks.lens_world.lenses import TracedLens
from benchmarks.lens_world.pictures import Camera, Sky, camera, jpeg, photograph
from benchmarks.lens_world.truth import STRAIGHT, Frame, Hole, Part, Tilt

CALIPER_MM, HEIGHT_MM, MOST_TILT_DEG = 0.3, 0.1, 1.5
EXIF_NAME = "Sund lens"


@dataclass(frozen=True)
class Ring:
    """A ring as it is (`parts`) and as the kit says it is; `holder` are the kit's keys of a holder on it."""

    id: str
    parts: tuple[Part, ...]
    bore_mm: float
    height_mm: float
    holder: tuple[tuple[str, float], ...] = ()

    @property
    def worn(self) -> str:
        """Its keys in a span of filters.toml."""
        return f'ring = "{self.id}"' + (f'\nholder = "h{self.id}"' if self.holder else "")

    @property
    def kit(self) -> str:
        """Its tables in kit.toml."""
        text = f'\n[[ring]]\nid = "{self.id}"\nthread_mm = 77\n'
        text += f"bore_mm = {self.bore_mm:.1f}\nheight_mm = {self.height_mm:.1f}"
        if self.holder:
            keys = "\n".join(f"{key} = {value:.1f}" for key, value in self.holder)
            text += f'\n\n[[holder]]\nid = "h{self.id}"\nslots = 1\n{keys}'
        return text


@dataclass(frozen=True)
class Shot:
    """One frame: what was on (None: bare), what is declared, and how the picture came about."""

    f_number: float
    ring: Ring | None
    declared: Ring | None
    sky: Sky
    tilt: Tilt = STRAIGHT
    enlarged: float = 1.0
    lens: TracedLens | None = None
    more: tuple[Part, ...] = ()


@dataclass
class SetUp:
    """Everything of one calibration."""

    lens: TracedLens
    body: Camera
    shots: list[Shot]
    rings: list[Ring]
    distortion_percent: float | None = None
    words: str = ""
    kit_focals: tuple[float, float] | None = field(default=None)

    @property
    def nominal_mm(self) -> float:
        """Focal length as the lens is sold, which EXIF writes."""
        return float(round(self.lens.focal_mm - 0.4))

    def write(self, folder: Path) -> None:
        """Pictures, kit.toml and filters.toml."""
        spans = []
        for number, shot in enumerate(self.shots):
            lens = shot.lens or self.lens
            parts = (*(shot.ring.parts if shot.ring else ()), *shot.more)
            codes = photograph(lens, shot.f_number, parts, shot.tilt, self.body, shot.sky, shot.enlarged)
            name = f"TARN{number + 1:04d}"
            data = jpeg(codes, self.body.quality, self.nominal_mm, shot.f_number, EXIF_NAME, number)
            (folder / f"{name}.JPG").write_bytes(data)
            worn = shot.declared.worn if shot.declared else "bare = true"
            spans.append(f'[[worn]]\nfiles = ["{name}"]\n{worn}\n')
        (folder / "filters.toml").write_text("\n".join(spans), encoding="utf-8")
        (folder / "kit.toml").write_text(self.kit(), encoding="utf-8")

    def kit(self) -> str:
        """The kit as a photographer writes it."""
        focal = self.nominal_mm
        low, high = self.kit_focals or (focal, focal)
        lines = ['[[body]]\nname = "A"\nmodel = "Brattholm Tarn"\nsensor_mm = [36.0, 24.0]\n']
        lines.append(f'[[lens]]\nid = "wide"\nexif = ["{EXIF_NAME}"]\nthread_mm = 77')
        lines.append(f"focal_mm = [{low:g}, {high:g}]" if low != high else f"focal_mm = {focal:g}")
        if self.distortion_percent is not None:
            lines.append(f"distortion_percent = {self.distortion_percent:.1f}")
        lines += [ring.kit for ring in self.rings]
        return "\n".join(lines) + "\n"


def ring_for(lens: TracedLens, rng: np.random.Generator, id: str, share: float, height_mm: float) -> Ring:
    """A ring whose cut begins about where `share` of the corner's tangent is; its kit entry by caliper."""
    tangent = share * np.tan(np.radians(lens.corner_deg))
    depth = lens.depth_mm + lens.drift_mm * tangent**2
    radius = max(round(float(tangent * (depth + height_mm)), 1), 4.0)
    bore, height = 2 * radius + rng.normal(0, CALIPER_MM), height_mm + rng.normal(0, HEIGHT_MM)
    return Ring(id, (Hole(radius, height_mm),), round(float(bore), 1), round(float(height), 1))


def holder_for(lens: TracedLens, rng: np.random.Generator, id: str, share: float) -> Ring:
    """A ring with a holder whose rails cut the corners from about `share` of the corner's tangent on."""
    height, base, pitch = 4.0, 7.0, 3.2
    rails = height + base + pitch
    tangent = share * np.tan(np.radians(lens.corner_deg))
    depth = lens.depth_mm + lens.drift_mm * tangent**2
    clear = round(float(2 * tangent * np.cos(np.arctan2(24, 36)) * (depth + rails)), 1)
    bore = round(float(2.3 * tangent * (depth + height + base)), 1)
    parts = (Hole(bore / 2, height + base), Frame(clear, 1000.0, rails))
    off = rng.normal(0, (CALIPER_MM, HEIGHT_MM, CALIPER_MM, CALIPER_MM, HEIGHT_MM))
    keys = (("bore_mm", bore + off[2]), ("clear_width_mm", clear + off[3]), ("base_mm", base + off[4]))
    ring = bore + 4.0
    return Ring(id, parts, ring + off[0], height + off[1], (*keys, ("slot_pitch_mm", pitch)))


def right(lens: TracedLens, rng: np.random.Generator, count: int = 2, *, open_too: bool, bare: bool) -> SetUp:
    """A sound calibration: rings at two f-numbers of 5.6 to 11 each, wide open besides where asked for."""
    shares = np.sort([rng.uniform(0.62, 0.76), rng.uniform(0.8, 0.95), rng.uniform(0.62, 0.95)][:count])
    heights = rng.permutation(np.array([rng.uniform(3, 12), rng.uniform(18, 45), rng.uniform(3, 45)])[:count])
    rings = [
        ring_for(lens, rng, f"r{n}", float(s), round(float(h), 1))
        for n, (s, h) in enumerate(zip(shares, heights, strict=True))
    ]
    f_numbers = sorted(rng.choice([5.6, 8.0, 11.0], 2, replace=False).tolist())
    if open_too:
        f_numbers = [*lens.f_numbers[: 2 if lens.f_numbers[0] < 4 else 1], *f_numbers]
    sky, shots = _sky(rng), []
    for ring in [*([None] if bare else []), *rings]:
        tilt = Tilt(float(rng.uniform(0, MOST_TILT_DEG)), float(rng.uniform(0, 360)))
        shots += [Shot(f, ring, ring, _again(sky, rng), tilt) for f in f_numbers]
    known = rng.random() < 0.5
    focal = round(lens.focal_mm - 0.4)
    return SetUp(
        lens,
        camera(rng),
        shots,
        rings,
        round(distortion_percent(lens), 1) if known else None,
        kit_focals=(min(16.0, focal), max(35.0, focal)) if "Ex." in lens.name else None,
    )


def distortion_percent(lens: TracedLens) -> float:
    """Shift of the picture's corner, as a test report would print it."""
    return float(100 * (21.633 / (lens.focal_mm * np.tan(np.radians(lens.corner_deg))) - 1))


def _sky(rng: np.random.Generator) -> Sky:
    return Sky(
        float(rng.uniform(0, 0.9)),
        float(rng.uniform(0, 2 * np.pi)),
        float(rng.normal(0, 0.05)),
        float(rng.uniform(0, 0.02)),
    )


def _again(sky: Sky, rng: np.random.Generator) -> Sky:
    """The same sky a moment later, the camera held by hand: gradient and exposure move a little."""
    return replace(
        sky,
        stops=sky.stops + float(rng.normal(0, 0.08)),
        turn=sky.turn + float(rng.normal(0, 0.1)),
        exposure_stops=float(rng.uniform(-0.3, 0.6)),
        seed=int(rng.integers(1 << 30)),
    )
