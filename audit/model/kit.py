"""The kit: bodies, lenses, rings, holders and filters as the photographer wrote them down.

Field names are the keys of `kit.toml`; a key that is left out stays None here, and the default dimension
that stands in for it is marked as assumed where it enters a result.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from audit.optics.density import stops_from_density, stops_from_factor

FilterKind = Literal["neutral", "grad-hard", "grad-soft", "polariser", "other"]

POLARISER_STOPS = (1.0, 2.0)
"""Loss of a polariser whose strength the kit does not give, by its turn: common practice, no source."""

DENSEST_STOPS = 20.0
"""Above this a strength is a slip of unit: sun filters end near 17 stops. From memory, no source."""

PUPIL_DEPTH_MM, PUPIL_BAND_MM, PUPIL_ERR_MM = 25.0, (20.0, 32.0), 3.0
"""Entrance pupil behind the thread of a wide-angle lens: default dimension, common practice, no source."""

Name = Annotated[str, Field(min_length=1, pattern=r"^\S(.*\S)?$")]
Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(strict=True, allow_inf_nan=False)]
YesNo = Annotated[bool, Field(strict=True)]
Whole = Annotated[int, Field(strict=True, gt=0)]


class PupilDepth(NamedTuple):
    """Entrance pupil behind the front edge of the thread, mm: best guess, band, and what was assumed."""

    mm: float
    low_mm: float
    high_mm: float
    assumed: tuple[str, ...]


class Part(BaseModel):
    """Anything written as a TOML table: unknown keys are refused, values never change."""

    model_config = ConfigDict(frozen=True, extra="forbid")


def rule(key: str, text: str) -> PydanticCustomError:
    """A mistake in several keys of one table, shown at `key`."""
    return PydanticCustomError("rule", "{text}", {"key": key, "text": text})


class Body(Part):
    """A camera. `clock_ahead_s` is the camera's clock minus true time."""

    name: Name
    model: Name
    serial: Name | None = None
    sensor_mm: tuple[Positive, Positive] | None = None
    clock_ahead_s: Finite = 0.0
    viewfinder: Literal["optical", "electronic"] | None = None


class Lens(Part):
    """A lens; `focal_mm` is (shortest, longest), equal for a prime."""

    id: Name
    exif: tuple[Name, ...] = ()
    thread_mm: Positive | None = None
    focal_mm: tuple[Positive, Positive]
    pupil_depth_mm: Finite | None = None
    pupil_depth_err_mm: NotNegative | None = None
    shift: YesNo = False
    no_contacts: YesNo = False
    f_number: Positive | None = None

    @field_validator("focal_mm", mode="before")
    @classmethod
    def _prime(cls, value: Any) -> Any:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        return (value, value) if number else value

    @model_validator(mode="after")
    def _sense(self) -> Lens:
        if self.focal_mm[0] > self.focal_mm[1]:
            raise rule("focal_mm", "the longer focal length stands first; write shortest, longest")
        if self.f_number is not None and not self.no_contacts:
            raise rule(
                "f_number", "only a lens without contacts has it; add no_contacts = true or leave it out"
            )
        if self.pupil_depth_err_mm is not None and self.pupil_depth_mm is None:
            raise rule("pupil_depth_err_mm", "needs pupil_depth_mm beside it")
        return self

    @property
    def pupil(self) -> PupilDepth:
        """Depth of the entrance pupil with its band; defaults are named in `assumed`."""
        if self.pupil_depth_mm is None:
            return PupilDepth(PUPIL_DEPTH_MM, *PUPIL_BAND_MM, (f"pupil depth of {self.id}",))
        err, assumed = self.pupil_depth_err_mm, ()
        if err is None:
            return PupilDepth(
                self.pupil_depth_mm,
                self.pupil_depth_mm - PUPIL_ERR_MM,
                self.pupil_depth_mm + PUPIL_ERR_MM,
                (f"error of the pupil depth of {self.id}",),
            )
        return PupilDepth(self.pupil_depth_mm, self.pupil_depth_mm - err, self.pupil_depth_mm + err, assumed)


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
            raise rule("to_mm", f"steps from {self.from_mm:g} to {self.to_mm:g} mm, which is no step")
        return self


class Strength(Part):
    """What a filter costs: one of stops, density or factor, converted exactly."""

    kind: FilterKind
    stops: NotNegative | None = None
    density: NotNegative | None = None
    factor: Annotated[float, Field(strict=True, ge=1, allow_inf_nan=False)] | None = None

    @model_validator(mode="after")
    def _one_strength(self) -> Strength:
        given = [key for key in ("stops", "density", "factor") if getattr(self, key) is not None]
        if len(given) > 1:
            raise rule(given[1], f"{' and '.join(given)} are both given; keep one of them")
        if not given and self._needs_strength():
            raise rule("stops", "is missing; write one of stops, density or factor")
        if given and self.loss_stops[1] > DENSEST_STOPS:
            raise rule(given[0], _too_dense(given[0], getattr(self, given[0]), self.loss_stops[1]))
        return self

    def _needs_strength(self) -> bool:
        return self.kind != "polariser"

    @property
    def loss_stops(self) -> tuple[float, float]:
        """Least and most loss in stops; a polariser without a value costs 1 to 2, by its turn."""
        if self.stops is not None:
            return self.stops, self.stops
        if self.density is not None:
            stops = float(stops_from_density(self.density))
        elif self.factor is not None:
            stops = float(stops_from_factor(self.factor))
        else:
            return POLARISER_STOPS if self.kind == "polariser" else (0.0, 0.0)
        return stops, stops

    @property
    def is_grad(self) -> bool:
        """Whether it darkens part of the frame only."""
        return self.kind.startswith("grad-")


class ScrewIn(Strength):
    """A screw-in filter that stays between lens and ring."""

    id: Name
    thread_mm: Positive
    height_mm: NotNegative | None = None
    bore_mm: Positive | None = None
    kind: FilterKind = "other"

    def _needs_strength(self) -> bool:
        return self.kind not in ("polariser", "other")


class Holder(Part):
    """A filter holder. `base_mm`: from the ring's seat to the back of the first slot; the bore lies there."""

    id: Name
    slots: Whole
    bore_mm: Positive | None = None
    base_mm: NotNegative | None = None
    clear_width_mm: Positive | None = None
    slot_pitch_mm: Positive | None = None
    front_ring_mm: Positive | None = None
    front_ring_thickness_mm: NotNegative | None = None
    push_on_mm: Positive | None = None


class Filter(Strength):
    """A filter for a holder's slot, or a round one for its front ring."""

    id: Name
    width_mm: Positive | None = None
    thickness_mm: Positive | None = None
    gasket: YesNo = False
    round: YesNo = False


class Hood(Part):
    """A lens hood; `length_mm` from its seat to its front edge, where the bore lies."""

    id: Name
    length_mm: Positive
    bore_mm: Positive


class Kit(Part):
    """Everything in the bag. Tables keep the order of the file."""

    place: str | None = None
    bodies: tuple[Body, ...] = Field(default=(), alias="body")
    lenses: tuple[Lens, ...] = Field(default=(), alias="lens")
    rings: tuple[Ring, ...] = Field(default=(), alias="ring")
    step_rings: tuple[StepRing, ...] = Field(default=(), alias="step_ring")
    screw_ins: tuple[ScrewIn, ...] = Field(default=(), alias="screw_in")
    holders: tuple[Holder, ...] = Field(default=(), alias="holder")
    filters: tuple[Filter, ...] = Field(default=(), alias="filter")
    hoods: tuple[Hood, ...] = Field(default=(), alias="hood")

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


def _too_dense(key: str, value: float, stops: float) -> str:
    """The slip of unit behind an impossible strength."""
    head = f"{value:g}" if key == "stops" else f"{value:g} is {stops:.3g} stops,"
    if key == "density":
        return f"{head} more than any filter; if {value:g} is in stops, write stops = {value:g}"
    if key == "stops":
        near = math.log2(value)
        return f"{head} is more than any filter; for a factor ({near:.3g} stops) write factor = {value:g}"
    return f"{head} more than any filter; look at the filter's rim again"
