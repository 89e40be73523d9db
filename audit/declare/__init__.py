"""The kit and the declarations: read them, and join them with the frame table."""

from __future__ import annotations

from audit.declare.join import Joined, join
from audit.declare.read import Loaded, load
from audit.declare.rigs import build_rig
from audit.kit.gear import add_gear
from audit.kit.lens_data import lens_optics
from audit.kit.read import find_kit

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
