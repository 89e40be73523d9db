"""What a question about a rig's corners is answered with."""

from __future__ import annotations

from dataclasses import dataclass

from audit.corners.prediction import Prediction
from audit.optics.crop import Crop


@dataclass(frozen=True)
class Widest:
    """Shortest focal length at which a rig is clear: best end, middle and worst end of the band, mm.

    `floor_mm` is the shortest that was looked at (clear there already where an end equals it), inf none.
    """

    best_mm: float
    middle_mm: float
    worst_mm: float
    floor_mm: float


@dataclass(frozen=True)
class Case:
    """One focal length at one f-number, as asked."""

    focal_length_mm: float
    f_number: float
    prediction: Prediction


@dataclass(frozen=True)
class Help:
    """A change and what it brings at the case shown: (best, middle, worst) loss in stops then.

    `regained_stops` is what the middle and the worst end gain together, each counted up to black.
    `clear_mm` is the widest clear focal length then, `wider_mm` by how much that falls (middle of the
    band); None for a crop. `clean_share`: area of the largest clean crop of the picture's shape (middle
    of the band), `cleaner` by how much it grows.
    """

    words: str
    losses: tuple[float, float, float]
    verdict: str
    regained_stops: float
    clear_mm: float | None
    wider_mm: float | None
    clean_share: float
    cleaner: float

    @property
    def helps(self) -> bool:
        """Whether there is a gain worth naming."""
        return self.regained_stops >= 0.05 or (self.wider_mm or 0.0) >= 0.05 or self.cleaner >= 0.005


@dataclass(frozen=True)
class Answer:
    """All that is said about a rig. `cases` run by focal length, then f-number; `helps` by gain.

    `size_px` stands in for the picture's pixels: of a crop only its place and share are to be told.
    """

    lens_words: str
    rig_words: str
    sensor_mm: tuple[float, float]
    size_px: tuple[int, int]
    depth_words: str
    cases: tuple[Case, ...]
    widest: dict[float, Widest]
    shown: Case
    crop: Crop | None
    crop_worst: Crop | None
    helps: tuple[Help, ...]
    assumed: tuple[str, ...]

    @property
    def clean_share(self) -> float:
        """Area of the largest clean crop at the case shown, of the whole picture."""
        return self.crop.share if self.crop else 0.0

    @property
    def cuts(self) -> bool:
        """Whether the rig cuts anywhere asked."""
        return any(case.prediction.verdict == "cut" for case in self.cases)


@dataclass(frozen=True)
class Told:
    """One answer of several: the rig's name ("" where none was named) and the bodies with that sensor."""

    rig: str
    bodies: tuple[str, ...]
    answer: Answer


@dataclass(frozen=True)
class Answers:
    """All answers of one call, sensor by sensor; `left_out` are bodies of which the kit gives no sensor."""

    told: tuple[Told, ...]
    left_out: tuple[str, ...] = ()

    @property
    def cuts(self) -> bool:
        """Whether any rig cuts anywhere asked."""
        return any(one.answer.cuts for one in self.told)
