"""A small aperture buys depth of field with sharpness everywhere: light spreads over several pixels.

Where f/11 had depth enough, the whole frame would have been crisper. Depth that was needed is worth it.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import body_words, lens_words, names, span
from audit.finding import Finding
from audit.message.text import joined, say

ID = "diffraction"
TITLE = "Stopped down into diffraction"
THRESHOLD = (
    "f/16 or smaller, and an Airy disc more than 2.5 pixels wide; silent where the file gives a subject "
    "nearer than 1 m, and for pictures that were resized"
)
SOURCE = (
    "diameter of the Airy disc 2.44 x f-number x wavelength, 0.55 um (any optics handbook); 2.5 pixels: "
    "common practice, no source"
)
ADVICE = (
    "Compare a frame at f/11 with it at full size; a filter rather than the aperture makes the time longer."
)
NEEDS = ("f_number", "airy_pixels", "pixel_pitch_um", "subject_distance_m")
MAY_LACK = ("subject_distance_m",)
SMALL, ENOUGH, WIDE_PIXELS, NEAR_M = 16.0, 11.0, 2.5, 1.0
EXACT = 2**0.5
"""f/11 is exactly f/11.3, eight times the root of two."""


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    near = frames["subject_distance_m"] < NEAR_M
    small = frames[(frames["f_number"] >= SMALL) & (frames["airy_pixels"] > WIDE_PIXELS) & ~near]
    for (body, _), part in small.groupby(["body", "lens"], sort=True, dropna=False):
        pitch = float(part["pixel_pitch_um"].median())
        at_enough = float((part["airy_pixels"] * 8 * EXACT / part["f_number_exact"]).median())
        yield Finding(
            ID,
            "note",
            names(part),
            seen=say(
                "f/{f_number}: a point of light is {width} pixels wide",
                f_number=span(part["f_number"]),
                width=span(part["airy_pixels"], digits=2),
            ),
            expected=say(
                "{width:.1f} pixels at f/{f_number:.0f}, where its depth of field is enough",
                width=at_enough,
                f_number=ENOUGH,
            ),
            sure=say("computed; pixels of {pitch:.1f} um", pitch=pitch),
            advice=ADVICE,
            cause=joined([body_words(body), lens_words(part["lens"].iloc[0])], ", "),
        )
