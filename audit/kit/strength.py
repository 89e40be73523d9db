"""What a filter costs, as its label says and as it proved to."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from audit.kit.part import Name, NotNegative, Part, rule
from audit.kit.readings import DENSEST_STOPS, LABELS, other_strengths, strengths_in_words, too_dense, written
from audit.message.figures import all_of
from audit.message.text import marked, say

FilterKind = Literal["neutral", "grad-hard", "grad-soft", "polariser", "other"]

POLARISER_STOPS = (1.0, 2.0)
"""Loss of a polariser whose strength the kit does not give, by its turn: common practice, no source."""


class Strength(Part):
    """What a filter costs: one of stops, density or factor, converted exactly.

    That is its label; `measured_stops` is what it proved to cost, with its 95 % half width, and comes first.
    """

    id: Name
    kind: FilterKind
    stops: NotNegative | None = None
    density: NotNegative | None = None
    factor: Annotated[float, Field(strict=True, ge=1, allow_inf_nan=False)] | None = None
    measured_stops: NotNegative | None = None
    measured_err_stops: NotNegative | None = None

    @field_validator("factor", mode="before")
    @classmethod
    def _no_gain(cls, value: Any) -> Any:
        if isinstance(value, float) and 0 < value < 1:
            found = other_strengths("factor", value, "neutral")
            words = marked("{value_written} would make more light; write {strengths_written}")
            if found:
                told = say(words, value_written=written(value), strengths_written=strengths_in_words(found))
                raise rule("factor", told)
        return value

    @model_validator(mode="after")
    def _one_strength(self) -> Strength:
        given = self._label_keys()
        if len(given) > 1:
            raise rule(given[1], say("{keys} are both given; keep one of them", keys=all_of(given)))
        if not given and self._needs_strength():
            raise rule("stops", marked("is missing; write one of stops, density or factor"))
        if given and self.label_stops[1] > DENSEST_STOPS:
            raise rule(given[0], too_dense(self.id, self.kind, given[0], getattr(self, given[0])))
        return self

    @model_validator(mode="after")
    def _measured_sense(self) -> Strength:
        if self.measured_err_stops is not None and self.measured_stops is None:
            raise rule("measured_err_stops", say("needs {other_key} beside it", other_key="measured_stops"))
        if self.measured_stops is None:
            return self
        if self.kind not in ("neutral", "other"):
            words = marked("is for even filters; a {kind_written} has no one strength to measure")
            raise rule("measured_stops", say(words, kind_written=self.kind))
        if not self._label_keys():
            words = marked("needs the label beside it: one of stops, density or factor")
            raise rule("measured_stops", words)
        if self.measured_stops > DENSEST_STOPS:
            words = marked("{value_written} is more than any filter; it is written in stops")
            raise rule("measured_stops", say(words, value_written=f"{self.measured_stops:g}"))
        return self

    def _label_keys(self) -> list[str]:
        return [key for key in LABELS if getattr(self, key) is not None]

    def _needs_strength(self) -> bool:
        return self.kind != "polariser"

    @property
    def loss_stops(self) -> tuple[float, float]:
        """Least and most loss in stops: measured where the kit says so, else by the label."""
        if self.measured_stops is not None:
            return self.measured_stops, self.measured_stops
        return self.label_stops

    @property
    def label_stops(self) -> tuple[float, float]:
        """Least and most loss by the label; a polariser without a value costs 1 to 2, by its turn."""
        for key in self._label_keys():
            stops = float(LABELS[key](getattr(self, key)))
            return stops, stops
        return POLARISER_STOPS if self.kind == "polariser" else (0.0, 0.0)

    @property
    def is_grad(self) -> bool:
        """Whether it darkens part of the frame only."""
        return self.kind.startswith("grad-")
