"""The simulated camera: light of a scene through filters and openings, exposed, developed, stored."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from audit.demo.gear import GLASSES, SLOT_PITCH_MM, Rig, even_stops, openings, panes
from audit.demo.rays import Bundle, Floats, Opening, Round, unobstructed
from audit.demo.scene import Light

MAP_COLUMNS, MAP_ROWS = 61, 41
MAP_RAYS, CORNER_RAYS = 512, 8192
_GRAD_EDGE_BELOW_MIDDLE = 0.06
PREVIEW_PX = 640


@dataclass(frozen=True)
class View:
    """Geometry of one picture, camera held level: sensor size in mm and the bundle of the lens."""

    width_mm: float
    height_mm: float
    bundle: Bundle

    def tangents(self, columns: int, rows: int) -> tuple[Floats, Floats]:
        """Field tangents (x right, y up) at the nodes of an even grid that spans the picture."""
        x = np.linspace(-0.5, 0.5, columns) * self.width_mm / self.bundle.focal_length_mm
        y = np.linspace(0.5, -0.5, rows) * self.height_mm / self.bundle.focal_length_mm
        tan_x, tan_y = np.meshgrid(x, y)
        return tan_x, tan_y


@lru_cache(maxsize=256)
def corner_map(view: View, rig: Rig) -> NDArray[np.float32]:
    """Unobstructed fraction over the picture, a coarse grid from the top left."""
    tan_x, tan_y = view.tangents(MAP_COLUMNS, MAP_ROWS)
    fraction = np.ones(tan_x.shape)
    stack = openings(rig)
    doubtful = _may_be_cut(tan_x, tan_y, view.bundle, stack)
    fraction[doubtful] = unobstructed(
        tan_x[doubtful], tan_y[doubtful], view.bundle, stack, panes(rig), rays=MAP_RAYS
    )
    return fraction.astype(np.float32)


def _may_be_cut(tan_x: Floats, tan_y: Floats, bundle: Bundle, stack: Sequence[Opening]) -> NDArray[np.bool_]:
    """Where some ray could be stopped: only there is it worth following them."""
    square = tan_x**2 + tan_y**2
    growth = (1 + square) ** (max(bundle.radial_growth, bundle.tangential_growth) / 2)
    reach = bundle.focal_length_mm / (2 * bundle.f_number) * growth
    doubtful = np.zeros(tan_x.shape, dtype=bool)
    for opening in stack:
        way = bundle.depth_mm + bundle.drift_mm * square + opening.distance_mm
        free = (
            opening.radius_mm if isinstance(opening, Round) else min(opening.width_mm, opening.height_mm) / 2
        )
        doubtful |= way * np.sqrt(square) + reach > free
    return doubtful


def corner_losses(view: View, rig: Rig) -> tuple[float, ...]:
    """Stops lost in the corners top left, top right, bottom left, bottom right; inf where all is black."""
    tan_x, tan_y = view.tangents(2, 2)
    fraction = unobstructed(tan_x, tan_y, view.bundle, openings(rig), panes(rig), rays=CORNER_RAYS)
    return tuple(math.inf if f == 0 else -math.log2(f) for f in fraction.ravel().tolist())


def through(light: Light, view: View, rig: Rig, meant: float = 1.0) -> Light:
    """The scene's light behind filters and openings; `meant` scales it beforehand."""
    rows, columns = light.shape[:2]
    coarse = Image.fromarray(corner_map(view, rig))
    # The outermost nodes lie on the edges of the picture, not in the middle of cells.
    nodes = (0.5, 0.5, MAP_COLUMNS - 0.5, MAP_ROWS - 0.5)
    passed = np.asarray(coarse.resize((columns, rows), Image.Resampling.BILINEAR, box=nodes))
    passed = passed * np.float32(meant * 2.0 ** -even_stops(rig))
    for turn_deg, place, name in _grads(rig):
        passed = passed * _grad(view, columns, rows, turn_deg, place, name)
    tint = np.prod([GLASSES[g].tint for g in rig.glasses], axis=0) if rig.glasses else 1.0
    return np.asarray(light * passed[..., None] * np.asarray(tint, np.float32), np.float32)


def _grads(rig: Rig) -> list[tuple[float, int, str]]:
    """Turn, slot and name of each grad worn."""
    holders = ((rig.turn_deg, rig.slots, 0), (rig.second_turn_deg, rig.second_slots, 4))
    return [
        (turn, first + slot, name)
        for turn, slots, first in holders
        for slot, name in enumerate(slots)
        if name and GLASSES[name].kind == "grad"
    ]


def _grad(view: View, columns: int, rows: int, turn_deg: float, slot: int, name: str) -> NDArray[np.float32]:
    """What a grad lets through: dense towards the top at turn 0, its edge blurred by the bundle's width."""
    bundle, glass = view.bundle, GLASSES[name]
    tan_x, tan_y = view.tangents(columns, rows)
    turn = math.radians(turn_deg)
    way_mm = bundle.depth_mm + 11.0 + slot * SLOT_PITCH_MM
    half_view = (abs(math.sin(turn)) * view.width_mm + abs(math.cos(turn)) * view.height_mm) / 2
    edge = -_GRAD_EDGE_BELOW_MIDDLE * half_view / bundle.focal_length_mm
    up_mm = way_mm * (tan_x * math.sin(turn) + tan_y * math.cos(turn) - edge)
    soft_mm = math.hypot(glass.edge_mm, 2 * bundle.focal_length_mm / bundle.f_number)
    dense = np.clip(0.5 + up_mm / soft_mm, 0, 1)
    return np.asarray(2.0 ** (-glass.stops * dense * dense * (3 - 2 * dense)), np.float32)


def develop(exposed: Light, iso: float, seed: int) -> NDArray[np.uint8]:
    """Our own tone curve: a steep middle, a soft shoulder, noise by ISO; 0.18 comes out near half."""
    rng = np.random.default_rng(seed)
    value = np.maximum(exposed * np.float32(0.18), 0)
    grain = rng.standard_normal(value.shape[:2], dtype=np.float32)[..., None]
    value = np.maximum(value + grain * np.sqrt(value + 0.0005) * np.float32(0.0035 * math.sqrt(iso / 100)), 0)
    steep = value ** np.float32(1.28)
    tone = np.float32(1.06) * steep / (steep + np.float32(0.205**1.28))
    return np.asarray(np.clip(tone * 255 + 0.5, 0, 255), np.uint8)


def jpeg(pixels: NDArray[np.uint8], quality: int = 84) -> bytes:
    """The pixels as a JPEG."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=quality)
    return out.getvalue()


def enlarged_jpeg(pixels: NDArray[np.uint8], width_px: int, height_px: int) -> bytes:
    """The picture with the pixel count of a camera as a JPEG; nothing sharper comes in, so it stays small."""
    if (width_px, height_px) == (pixels.shape[1], pixels.shape[0]):
        return jpeg(pixels)
    out = io.BytesIO()
    large = Image.fromarray(pixels).resize((width_px, height_px), Image.Resampling.BILINEAR)
    large.save(out, "JPEG", quality=60, optimize=True)
    return out.getvalue()


def thumbnail(pixels: NDArray[np.uint8]) -> bytes:
    """160 x 120 as cameras embed it: the whole picture between black bars (DCF 2.0, from memory)."""
    small = Image.fromarray(pixels).resize((160, 107), Image.Resampling.LANCZOS)
    frame = Image.new("RGB", (160, 120))
    frame.paste(small, (0, 6))
    out = io.BytesIO()
    frame.save(out, "JPEG", quality=80)
    return out.getvalue()


def preview(pixels: NDArray[np.uint8], quality: int = 80) -> bytes:
    """The picture once more, 640 px long, for the camera's own display."""
    picture = Image.fromarray(pixels)
    size = PREVIEW_PX, round(PREVIEW_PX * picture.height / picture.width)
    return jpeg(np.asarray(picture.resize(size, Image.Resampling.BILINEAR)), quality)
