"""The kit: bodies, lenses, rings, holders and filters as the photographer wrote them down.

Field names are the keys of `kit.toml`; a key that is left out stays None here, and the default dimension
that stands in for it is marked as assumed where it enters a result.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, field_validator, model_validator

from audit.kit.named_rig import NamedRig
from audit.kit.part import Finite as Finite
from audit.kit.part import FNumber as FNumber
from audit.kit.part import Name as Name
from audit.kit.part import NotNegative, Tolerance, Whole
from audit.kit.part import Part as Part
from audit.kit.part import Positive as Positive
from audit.kit.part import YesNo as YesNo
from audit.kit.part import rule as rule
from audit.kit.pupil import (
    BY_HAND,
    PUPIL_BAND_MM,
    PUPIL_DEPTH_MM,
    PUPIL_ERR_MM,
    STOPPED_DOWN,
    CalibratedPupil,
    DepthAt,
    PupilDepth,
    calibrated_pupil,
    depth_line,
)
from audit.kit.strength import FilterKind
from audit.kit.strength import Strength as Strength
from audit.kit.where import Where
from audit.message.text import marked, say

FOCAL_SLACK = 0.05
"""A focal length as EXIF writes it may lie so far outside the lens' own range: common practice, no source."""

Percent = Annotated[float, Field(strict=True, ge=-25, le=25, allow_inf_nan=False)]
"""Shift of the corner by distortion; a lens with more is no rectilinear one: common practice, no source."""


class Body(Part):
    """A camera. `clock_ahead_s` is the camera's clock minus true time."""

    name: Name
    model: Name
    serial: Name | None = None
    sensor_mm: tuple[Positive, Positive] | None = None
    clock_ahead_s: Finite = 0.0
    viewfinder: Literal["optical", "electronic"] | None = None


class Lens(Part):
    """A lens; `focal_mm` is (shortest, longest), equal for a prime.

    `pupil_depths` are (focal length, depth, error) of a zoom; every error is a 95 % half width. `calibrated`
    is what `cornerstop calibrate` found, and stands for all of them.
    `distortion_percent` is the shift of the corner at (shortest, longest), barrel negative. `rig` names the
    rig that carries the filters of a span that does not name one.
    """

    id: Name
    exif: tuple[Name, ...] = ()
    thread_mm: Positive | None = None
    rig: Name | None = None
    focal_mm: tuple[Positive, Positive]
    pupil_depth_mm: Finite | None = None
    pupil_depth_err_mm: NotNegative | None = None
    pupil_depths: tuple[DepthAt, ...] | None = None
    pupil_drift_mm: Finite | None = None
    pupil_drift_err_mm: NotNegative | None = None
    calibrated: tuple[CalibratedPupil, ...] = ()
    distortion_percent: tuple[Percent, Percent] | None = None
    shift: YesNo = False
    no_contacts: YesNo = False
    f_number: FNumber | None = None

    @field_validator("focal_mm", "distortion_percent", mode="before")
    @classmethod
    def _prime(cls, value: Any) -> Any:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return (value, value) if number else value

    @field_validator("pupil_depths", mode="before")
    @classmethod
    def _triples(cls, value: Any) -> Any:
        if not isinstance(value, list | tuple):
            return value
        if not value or any(not isinstance(x, list | tuple) or len(x) != 3 for x in value):
            words = marked("is a list of [focal length, depth, error], like [[16, 25.1, 0.6]], in mm")
            raise rule("pupil_depths", words)
        return value

    @model_validator(mode="after")
    def _pupil_sense(self) -> Lens:
        if self.pupil_depth_err_mm is not None and self.pupil_depth_mm is None:
            raise rule("pupil_depth_err_mm", say("needs {other_key} beside it", other_key="pupil_depth_mm"))
        if self.pupil_drift_err_mm is not None and self.pupil_drift_mm is None:
            raise rule("pupil_drift_err_mm", say("needs {other_key} beside it", other_key="pupil_drift_mm"))
        if self.pupil_depths is not None:
            if self.pupil_depth_mm is not None:
                raise rule("pupil_depths", marked("and pupil_depth_mm are both given; keep one of them"))
            self._focals_sense("pupil_depths", [(focal, False) for focal, _, _ in self.pupil_depths])
        if self.calibrated:
            if any(getattr(self, key) is not None for key in BY_HAND):
                words = marked("and pupil depths or drift written by hand are both given; keep one of them")
                raise rule("calibrated", words)
            self._focals_sense("calibrated", [(one.focal_mm, one.wide_open) for one in self.calibrated])
        return self

    def _focals_sense(self, key: str, focals: list[tuple[float, bool]]) -> None:
        if len(set(focals)) < len(focals):
            raise rule(key, marked("gives two depths for one focal length; keep one of them"))
        low, high = self.focal_mm[0] * (1 - FOCAL_SLACK), self.focal_mm[1] * (1 + FOCAL_SLACK)
        if off := [focal for focal, _ in focals if not low <= focal <= high]:
            words = marked("{focal:g} mm is no focal length of this lens; each is within focal_mm")
            raise rule(key, say(words, focal=off[0]))

    @model_validator(mode="after")
    def _sense(self) -> Lens:
        if self.focal_mm[0] > self.focal_mm[1]:
            words = marked("the longer focal length stands first; write focal_mm = [{short:g}, {long:g}]")
            raise rule("focal_mm", say(words, short=self.focal_mm[1], long=self.focal_mm[0]))
        if self.f_number is not None and not self.no_contacts:
            words = marked("only a lens without contacts has it; add no_contacts = true or leave it out")
            raise rule("f_number", words)
        return self

    def distortion_at(self, focal_length_mm: float) -> float | None:
        """Shift of the corner in percent at a focal length: linear between the two given, held outside."""
        if self.distortion_percent is None:
            return None
        return float(np.interp(focal_length_mm, self.focal_mm, self.distortion_percent))

    def pupil_at(self, focal_length_mm: float, f_number: float = STOPPED_DOWN) -> PupilDepth:
        """Entrance pupil at a focal length and f-number with its band; what is assumed is named.

        Depths at several focal lengths: a straight line through them, whose error grows outside them.
        """
        if self.calibrated:
            return calibrated_pupil(self.calibrated, focal_length_mm, f_number, self.id)
        drift = (self.pupil_drift_mm, self.pupil_drift_err_mm)
        if self.pupil_depths is not None:
            depth, err, outside = depth_line(self.pupil_depths, focal_length_mm)
            words = say("pupil depth of {name} outside the focal lengths measured", name=self.id)
            assumed = (words,) if outside else ()
            return PupilDepth(depth, depth - err, depth + err, assumed, *drift, True)
        depth_mm, given_err = self.pupil_depth_mm, self.pupil_depth_err_mm
        if depth_mm is None:
            words = say("pupil depth of {name}", name=self.id)
            return PupilDepth(PUPIL_DEPTH_MM, *PUPIL_BAND_MM, (words,), *drift)
        if given_err is None:
            low, high = depth_mm - PUPIL_ERR_MM, depth_mm + PUPIL_ERR_MM
            words = say("error of the pupil depth of {name}", name=self.id)
            return PupilDepth(depth_mm, low, high, (words,), *drift)
        return PupilDepth(depth_mm, depth_mm - given_err, depth_mm + given_err, (), *drift, True)

    @property
    def pupil(self) -> PupilDepth:
        """Depth of the entrance pupil at the shortest focal length."""
        return self.pupil_at(self.focal_mm[0])


class Ring(Part):
    """An adapter ring between lens thread and holder; `height_mm` is its front edge before the thread's."""

    id: Name
    thread_mm: Positive
    kind: Literal["standard", "recessed"] = "standard"
    bore_mm: Positive | None = None
    height_mm: Finite | None = None


class StepRing(Part):
    """Screws into `from_mm` and offers `to_mm`."""

    id: Name
    from_mm: Positive
    to_mm: Positive
    height_mm: NotNegative | None = None
    bore_mm: Positive | None = None

    @model_validator(mode="after")
    def _sense(self) -> StepRing:
        if self.from_mm == self.to_mm:
            words = marked("steps from {first:g} to {last:g} mm, which is no step; read both threads again")
            raise rule("to_mm", say(words, first=self.from_mm, last=self.to_mm))
        return self


class ScrewIn(Strength):
    """A screw-in filter that stays between lens and ring."""

    thread_mm: Positive
    height_mm: NotNegative | None = None
    bore_mm: Positive | None = None
    thickness_mm: Positive | None = None
    kind: FilterKind = "other"

    def _needs_strength(self) -> bool:
        return self.kind not in ("polariser", "other")


class Holder(Part):
    """A filter holder. `base_mm`: from the ring's seat to the back of the first slot; the bore lies there.

    `play_mm` and `tilt_deg`: by how much it may sit off the middle, and lean, to either side.
    """

    id: Name
    slots: Whole
    bore_mm: Positive | None = None
    base_mm: NotNegative | None = None
    clear_width_mm: Positive | None = None
    slot_pitch_mm: Positive | None = None
    front_ring_mm: Positive | None = None
    front_ring_thickness_mm: NotNegative | None = None
    push_on_mm: Positive | None = None
    play_mm: Tolerance | None = None
    tilt_deg: Tolerance | None = None


class Filter(Strength):
    """A filter for a holder's slot, or a round one for its front ring."""

    width_mm: Positive | None = None
    thickness_mm: Positive | None = None
    gasket: YesNo = False
    round: YesNo = False


class Hood(Part):
    """A lens hood; `length_mm` from its seat to its front edge, where the bore lies."""

    id: Name
    length_mm: Positive
    bore_mm: Positive


class Kit(Where):
    """Everything in the bag. Tables keep the order of the file."""

    bodies: tuple[Body, ...] = Field(default=(), alias="body")
    lenses: tuple[Lens, ...] = Field(default=(), alias="lens")
    rings: tuple[Ring, ...] = Field(default=(), alias="ring")
    step_rings: tuple[StepRing, ...] = Field(default=(), alias="step_ring")
    screw_ins: tuple[ScrewIn, ...] = Field(default=(), alias="screw_in")
    holders: tuple[Holder, ...] = Field(default=(), alias="holder")
    filters: tuple[Filter, ...] = Field(default=(), alias="filter")
    hoods: tuple[Hood, ...] = Field(default=(), alias="hood")
    rigs: tuple[NamedRig, ...] = Field(default=(), alias="rig")

    def body(self, name: str) -> Body | None:
        """The body with that label."""
        return next((b for b in self.bodies if b.name == name), None)

    def lens(self, id: str) -> Lens | None:
        """The lens with that id."""
        return next((x for x in self.lenses if x.id == id), None)

    def ring(self, id: str) -> Ring | None:
        """The ring with that id."""
        return next((x for x in self.rings if x.id == id), None)

    def between(self, id: str) -> StepRing | ScrewIn | None:
        """The step ring or screw-in filter with that id."""
        parts: tuple[StepRing | ScrewIn, ...] = (*self.step_rings, *self.screw_ins)
        return next((x for x in parts if x.id == id), None)

    def holder(self, id: str) -> Holder | None:
        """The holder with that id."""
        return next((x for x in self.holders if x.id == id), None)

    def filter(self, id: str) -> Filter | None:
        """The filter with that id."""
        return next((x for x in self.filters if x.id == id), None)

    def hood(self, id: str) -> Hood | None:
        """The hood with that id."""
        return next((x for x in self.hoods if x.id == id), None)

    def rig(self, id: str, lens: str | None) -> NamedRig | None:
        """The named rig with that id: as it is on that lens, else as it is on any."""
        alike = [x for x in self.rigs if x.id == id]
        own = (x for x in alike if x.lens is not None and x.lens == lens)
        return next(own, next((x for x in alike if x.lens is None), None))
