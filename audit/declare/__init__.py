"""The kit and the declarations: read them, and join them with the frame table."""

from __future__ import annotations

from audit.declare.gear import add_gear
from audit.declare.join import Joined, join
from audit.declare.lens_optics import lens_optics
from audit.declare.read import Loaded, load
from audit.declare.read_kit import find_kit
from audit.declare.rigs import build_rig

__all__ = [
    "Joined",
    "Loaded",
    "add_gear",
    "build_rig",
    "find_kit",
    "join",
    "lens_optics",
    "load",
]
