"""What is planted in the trip and what only looks like it, by the tags of the plan."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Planted:
    """A mistake that its check must report, at this level."""

    check: str
    level: str
    what: str


@dataclass(frozen=True)
class Innocent:
    """Frames that the check must not report, and why one might think so."""

    check: str
    why: str


PLANTED: dict[str, tuple[Planted, ...]] = {
    "cut-16": (Planted("corners", "act", "16 mm on full frame behind the standard ring: corners black"),),
    "cut-17": (Planted("corners", "act", "17 mm, protective glass left under the standard ring"),),
    "risk-19": (Planted("corners", "look", "19 mm, standard ring: the pupil's depth decides"),),
    "risk-24": (
        Planted("corners", "note", "24 mm behind a step ring of 58 mm: at risk, and clear in the picture"),
    ),
    "rule-22": (
        Planted("corner-rules", "note", "22 mm, standard ring: the rule objects, the corner is clear"),
    ),
    "not-on": (Planted("filter-strength", "act", "six stops declared, nothing on the lens"),),
    "off-label": (Planted("filter-strength", "look", "labelled four stops, takes nearly five"),),
    "ring-left": (Planted("corners-shown", "act", "declared bare, ring and holder still on at 17 mm"),),
    "not-mounted": (Planted("corners-shown", "look", "a holder declared at 17 mm that was not on"),),
    "warm": (Planted("colour-cast", "note", "the ten-stop neutral is warm"),),
    "left-out": (
        Planted("exposure-off", "act", "three stops on, the shutter left where it was without them"),
    ),
    "left-on": (
        Planted("estimate-declared", "look", "declared bare, the ten stops of the setup before still on"),
    ),
    "half-bracket": (Planted("bracket-end", "look", "the third frame of the bracket was never released"),),
    "reckoned-short": (
        Planted("bulb-time", "look", "ten stops on, the time reckoned for eight"),
        Planted("exposure-off", "look", "two stops too dark from a time reckoned for eight stops"),
    ),
    "held": (Planted("light-drift", "look", "one second for a quarter of an hour at dusk"),),
    "iso-left": (
        Planted("iso-left-high", "look", "the trial's ISO 800 left for the long exposure"),
        Planted("exposure-off", "look", "three stops too bright at the trial's ISO"),
        Planted("jpeg-clipped", "note", "three stops over: the sky is white"),
    ),
    "f-22": (Planted("diffraction", "note", "f/22 with pixels of less than 9 um, f/11 beside it"),),
    "in-passing": (Planted("strong-handheld", "note", "one frame in passing, six stops, 1/8 s at 35 mm"),),
    "open-eyepiece": (
        Planted("light-leak", "note", "minutes through ten stops, the optical viewfinder not covered"),
    ),
    "blown": (Planted("jpeg-clipped", "note", "2.7 stops over: the snow is white"),),
    "forgotten": (Planted("exposure-sum", "act", "a neutral of six stops left in, only the grad declared"),),
    "noon-ten": (Planted("too-bright", "act", "ten stops declared at 1/250 s, f/11 at noon"),),
    "slip-stops": (Planted("unit-slip", "act", "density 1.8 typed as stops"),),
    "slip-density": (Planted("unit-slip", "act", "three stops typed as density"),),
    "undeclared": (Planted("undeclared", "look", "no span covers these frames"),),
    "no-f-number": (Planted("impossible-values", "note", "f/0 with a lens that has contacts"),),
    "no-time-value": (Planted("impossible-values", "note", "exposure time 1/0"),),
    "no-date": (Planted("time-missing", "look", "no date in the file"),),
    "zero-date": (Planted("time-missing", "look", "a date of zeros"),),
    "hour-off": (Planted("clock-offset", "look", "body A was set to the new time zone, body B was not"),),
    "gap": (Planted("counter-gap", "note", "four numbers missing before this frame"),),
    "copied": (Planted("duplicate", "note", "the same file once more in another folder"),),
    "raw-alone": (Planted("raw-alone", "note", "the raw file has no JPEG beside it, all others have"),),
    "torn": (Planted("unreadable", "act", "the file breaks off within its header"),),
    "blank": (Planted("unreadable", "act", "the file holds nothing but zeros"),),
}

INNOCENT: dict[str, tuple[Innocent, ...]] = {
    "small-sensor": (
        Innocent("corners", "the same lens and ring, or as short a lens, on the small sensor: clear"),
        Innocent("corner-rules", "24 mm in full-frame terms or longer: the rule is content as well"),
    ),
    "recessed-20": (
        Innocent("corners", "20 or 21 mm behind the recessed ring: clear"),
        Innocent("corners-shown", "20 or 21 mm behind the recessed ring: clear in the picture too"),
        Innocent("corner-rules", "recessed ring, as the rule wants"),
    ),
    "two-holders": (
        Innocent("corners", "two holders, one turned, at 50 mm: clear"),
        Innocent("corner-rules", "second holder at 50 mm: the rule is content"),
    ),
    "turned": (Innocent("corners", "camera upright and holder turned by 90 degrees: clear at 28 mm"),),
    "flash": (
        Innocent("exposure-sum", "a flash lit the place, two stops of it"),
        Innocent("exposure-off", "a flash lit the place, two stops of it"),
    ),
    "composite": (
        Innocent("exposure-sum", "made of several exposures in the camera"),
        Innocent("exposure-off", "made of several exposures in the camera"),
    ),
    "silhouette": (Innocent("exposure-off", "two stops under by compensation: a silhouette"),),
    "moonlight": (
        Innocent("estimate-declared", "moonlight, as dark as noon behind ten stops and more"),
        Innocent("exposure-off", "moonlight, and a dark picture"),
    ),
    "true-sum": (
        Innocent("exposure-sum", "the declared neutral fits the exposure"),
        Innocent("filter-strength", "5.9 stops on a six: what a label may be off by"),
        Innocent("colour-cast", "a tint that no picture shows"),
    ),
    "truly-bare": (Innocent("corners-shown", "a bare frame beside one that was not"),),
    "true-three": (Innocent("unit-slip", "a genuine 3 stop filter typed as stops = 3"),),
    "polariser": (
        Innocent("exposure-sum", "a polariser took 1.5 stops, within 1 to 2"),
        Innocent("filter-strength", "a polariser took 1.5 stops, within 1 to 2"),
    ),
    "compensated": (
        Innocent("exposure-sum", "exposure compensation, not a filter"),
        Innocent("jpeg-clipped", "a stop over, and yet not white"),
    ),
    "dusk": (
        Innocent("exposure-sum", "the light fell by .09 stop a minute"),
        Innocent("light-drift", "the light fell, and the camera metered anew for each frame"),
    ),
    "grad-bracket": (
        Innocent("exposure-sum", "a bracket of two stops each way with a grad"),
        Innocent("exposure-off", "the ends of a bracket are dark and bright on purpose"),
        Innocent("bracket-end", "both ends are there"),
    ),
    "whole-bracket": (
        Innocent("exposure-off", "the ends of a bracket are dark and bright on purpose"),
        Innocent("bracket-end", "both ends are there"),
    ),
    "high-key": (Innocent("exposure-off", "two stops brighter by compensation, as it was meant"),),
    "clouds": (
        Innocent("exposure-off", "clouds opened by a stop between two frames of one exposure"),
        Innocent("exposure-sum", "clouds opened by a stop between two frames of one exposure"),
        Innocent("light-drift", "one exposure held, but at noon: the sun hardly moves the light"),
    ),
    "true-ten": (
        Innocent("estimate-declared", "ten stops declared, and ten were on"),
        Innocent("strong-handheld", "seconds through ten stops, and a frame that lies over it: a tripod"),
        Innocent("exposure-off", "as bright as without the filter"),
    ),
    "f-16": (Innocent("diffraction", "f/16 with pixels of 12 um or more: none of it shows"),),
    "f-11": (Innocent("diffraction", "f/11 with pixels of less than 9 um"),),
    "sum-right": (Innocent("bulb-time", "1/6 s and ten stops make 161 s; 165 s were given"),),
    "covered": (Innocent("light-leak", "the eyepiece was covered, and declared so"),),
    "trial": (Innocent("iso-left-high", "the trial itself, at high ISO on purpose"),),
    "iso-back": (Innocent("iso-left-high", "after the trial the ISO was set back"),),
    "bulb": (
        Innocent("exposure-sum", "247 s through ten stops fit the light"),
        Innocent("too-bright", "ten stops, but minutes of exposure"),
        Innocent("bulb-time", "a third of a stop below the sum, and at dawn the light rose meanwhile"),
        Innocent("light-leak", "a gasket on the filter, and no optical viewfinder"),
    ),
    "snow-three": (Innocent("too-bright", "three stops at a fast shutter in bright snow"),),
    "said-unknown": (Innocent("undeclared", "declared unknown"),),
    "said-bare": (Innocent("undeclared", "declared bare"),),
    "no-contacts": (Innocent("impossible-values", "a manual lens without contacts that the kit knows"),),
    "burst": (Innocent("duplicate", "frames of a burst in one second"), Innocent("time-missing", "a burst")),
    "kit-clock": (Innocent("clock-offset", "95 s ahead, as the kit says"),),
    "wrapped": (Innocent("counter-gap", "counter from 9999 to 0001, in a new folder"),),
    "new-folder": (Innocent("counter-gap", "the numbers go on in another folder"),),
    "timeless-before": (Innocent("counter-gap", "the numbers before it belong to frames without a time"),),
    "unread-before": (Innocent("counter-gap", "the numbers before it belong to files that cannot be read"),),
    "jpeg-only": (Innocent("raw-alone", "body B writes JPEG only; so does A on the first day"),),
    "beside": (Innocent("unreadable", "a sidecar or resource file lies beside this frame"),),
}
