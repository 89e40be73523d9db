"""What follows from the joined table: scenes and brackets, the light implied, the corners predicted."""

from audit.measure.corners import add_corners
from audit.measure.light import add_light
from audit.measure.scenes import add_scenes

__all__ = ["add_corners", "add_light", "add_scenes"]
