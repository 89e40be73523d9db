"""What a test frame shows of a rig's cut, and how well its pieces are measured."""

from __future__ import annotations

from dataclasses import dataclass, replace

from audit.optics.corners import Circle, Opening

BORE_ERR_MM, HEIGHT_ERR_MM = 0.3, 0.1
"""1 sigma of a diameter and a height measured by hand with a caliper: common practice, no source."""
ASSUMED_BORE_ERR_MM, ASSUMED_HEIGHT_ERR_MM = 1.5, 1.0
"""The same where a default dimension stands in: assumed."""


@dataclass(frozen=True)
class Part:
    """An opening that was worn, and its errors (1 sigma).

    Attributes
    ----------
    name : equal where the same piece was worn [-]
    opening : as worn [-]
    bore_err_mm : of the diameter or width [mm]
    height_err_mm : of the distance from the lens [mm]
    """

    name: str
    opening: Opening
    bore_err_mm: float = BORE_ERR_MM
    height_err_mm: float = HEIGHT_ERR_MM

    def wider(self, step_mm: float) -> Part:
        """The part with its diameter (or width) larger by a step.

        Parameters
        ----------
        step_mm : [mm]

        Returns
        -------
        the changed part [-]

        Source
        ------
        Geometry.
        """
        o = self.opening
        if isinstance(o, Circle):
            return replace(self, opening=replace(o, radius_mm=o.radius_mm + step_mm / 2))
        return replace(self, opening=replace(o, width_mm=o.width_mm + step_mm))

    def higher(self, step_mm: float) -> Part:
        """The part farther from the lens by a step.

        Parameters
        ----------
        step_mm : [mm]

        Returns
        -------
        the changed part [-]

        Source
        ------
        Geometry.
        """
        return replace(self, opening=replace(self.opening, distance_mm=self.opening.distance_mm + step_mm))


@dataclass(frozen=True)
class Cut:
    """What one frame shows: the mean field angle at which its usable corners lose `level_stops`.

    Attributes
    ----------
    name : of the frame, which gives one cut for each loss [-]
    focal_length_mm : [mm]
    f_number : [1]
    level_stops : the loss [stop]
    angle_deg : where it is reached [deg]
    err_deg : of measuring (1 sigma) [deg]
    directions : of the corners that were averaged, in the optics' axes [1]
    parts : what was worn [-]
    field_err : of the field tangent there (1 sigma, relative): focal length, sensor, distortion [1]
        It is the same fault in all frames of a focal length, only more or less of it.
    """

    name: str
    focal_length_mm: float
    f_number: float
    level_stops: float
    angle_deg: float
    err_deg: float
    directions: tuple[tuple[float, float], ...]
    parts: tuple[Part, ...]
    field_err: float = 0.0
