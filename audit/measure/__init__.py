"""What follows from the joined table, step by step: setups, light, sun, corners, pixels, the estimate."""

from audit.measure.airy import add_airy
from audit.measure.arithmetic import add_arithmetic
from audit.measure.corners import add_corners
from audit.measure.estimate.estimate import add_estimate
from audit.measure.estimate.independent import add_independent
from audit.measure.kept import add_kept
from audit.measure.light import add_light
from audit.measure.scenes import add_scenes
from audit.measure.setups import add_setups
from audit.measure.sun import add_sky
from audit.measure.witness.step import add_pixels

__all__ = [
    "add_airy",
    "add_arithmetic",
    "add_corners",
    "add_estimate",
    "add_independent",
    "add_kept",
    "add_light",
    "add_pixels",
    "add_scenes",
    "add_setups",
    "add_sky",
]
