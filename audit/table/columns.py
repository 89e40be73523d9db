"""Every column of the frame table, once: name, type, unit, meaning and who fills it.

What follows from a type is in `audit/table/column.py`. Private columns are written when a flag asks, or never
(`thumbnail_jpeg`); withheld ones: where a receiver stood, the sun that tells it, places within files, codes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd
import pyarrow as pa

from audit.table.column import KINDS, Column


def _columns(step: str, *rows: tuple[str, str, str, str]) -> list[Column]:
    """Columns of a step; `_` before a name marks a private one, `__` a withheld one."""
    return [
        Column(n.lstrip("_"), KINDS[kind], unit, text, step, n.startswith("_"), n.startswith("__"))
        for n, kind, unit, text in rows
    ]


SCAN = _columns(
    "scan",
    ("frame", "text", "", "identity of the frame: path of its first file below the dump, without ending"),
    ("folder", "text", "", "folder of the first file, below the dump; '.' is the dump itself"),
    ("files", "texts", "", "every file of the frame, below the dump; the one the values come from first"),
    ("copies", "texts", "", "files that repeat another file of the frame (a mirrored card)"),
    ("formats", "text", "", "formats of the files, joined by +"),
    ("size_bytes", "whole", "byte", "size of the first file"),
    ("problem", "words", "", "why the frame could not be read, or null"),
    ("notes", "texts", "", "values that were left out or corrected, with the reason"),
    (
        "__notes_about",
        "texts",
        "",
        "what each of notes is about, a code; '' for those that nothing asks for",
    ),
    ("make", "text", "", "camera maker as written"),
    ("model", "text", "", "camera model as written"),
    ("_body_serial", "text", "", "serial number of the body as written"),
    ("serial_from", "text", "", "EXIF tag body_serial comes from; MakerNote: the maker's own notes"),
    (
        "lens",
        "text",
        "",
        "lens name as written; focal lengths and openings where a maker's notes tell only these",
    ),
    ("lens_from", "text", "", "EXIF tag the lens name comes from; MakerNote: the maker's own notes"),
    ("_lens_serial", "text", "", "serial number of the lens as written"),
    ("lens_focal_min_mm", "real", "mm", "shortest focal length of the lens as written"),
    ("lens_focal_max_mm", "real", "mm", "longest focal length of the lens as written"),
    ("captured_at", "time", "local time", "time of capture: clock_at set right by clock_ahead_s"),
    ("utc_offset_min", "whole", "min", "offset of captured_at from UTC, written or set right with it"),
    ("counter", "whole", "", "number at the end of the file name"),
    ("exposure_time_s", "real", "s", "exposure time as written"),
    ("exposure_time_ratio", "text", "s", "exposure time as the exact fraction written"),
    ("exposure_time_exact_s", "real", "s", "exposure time used in every sum: snapped to the exact series"),
    ("exposure_time_basis", "text", "", "third, half (series snapped to), written, or apex"),
    ("f_number", "real", "", "f-number as written"),
    ("f_number_exact", "real", "", "f-number used in every sum: snapped to the exact series"),
    ("f_number_basis", "text", "", "third, half (series snapped to), written, apex, kit, or declared"),
    ("iso", "real", "", "ISO speed"),
    ("iso_source", "text", "", "EXIF tag the ISO speed comes from; MakerNote: the maker's own notes"),
    ("ev100", "real", "stop", "log2(N^2/t) - log2(ISO/100), from the exact values"),
    ("exposure_bias_stops", "real", "stop", "exposure compensation"),
    ("exposure_program", "text", "", "exposure program in words"),
    ("exposure_mode", "text", "", "auto, manual or auto bracket"),
    ("metering", "text", "", "metering pattern in words"),
    ("white_balance", "text", "", "auto or fixed"),
    ("composite", "flag", "", "made of several exposures in the camera (CompositeImage, EXIF 2.32)"),
    ("flash_fired", "flag", "", "whether the flash fired"),
    ("focal_length_mm", "real", "mm", "focal length as written; null where the lens has no contacts"),
    ("focal_length_35mm", "real", "mm", "35 mm equivalent focal length as written, a whole number"),
    ("width_px", "whole", "px", "width of the picture as stored"),
    ("height_px", "whole", "px", "height of the picture as stored"),
    ("orientation", "whole", "", "EXIF orientation 1 to 8"),
    ("bit_depth", "whole", "bit", "bits of each channel; null where the file's format tells none here"),
    ("colour_profile", "text", "", "name of the ICC profile in the file, else the colour space EXIF names"),
    ("focal_plane_width_mm", "real", "mm", "picture width by the focal-plane resolution"),
    ("focal_plane_height_mm", "real", "mm", "picture height by the focal-plane resolution"),
    ("subject_distance_m", "real", "m", "subject distance as written"),
    ("gps_present", "flag", "", "whether the file holds a position (the position itself is never written)"),
    ("__latitude_deg", "real", "deg", "latitude of the position in the file, north positive"),
    ("__longitude_deg", "real", "deg", "longitude of the position, east positive"),
    ("__gps_at", "time", "UTC", "time of the position by the receiver"),
    ("_thumbnail_jpeg", "bytes", "", "embedded thumbnail, for the report's pictures"),
    ("__preview_file", "text", "", "file that holds the embedded preview that is used, below the dump"),
    ("__preview_offset", "whole", "byte", "where the preview's JPEG starts in that file"),
    ("__preview_bytes", "whole", "byte", "its length"),
    ("__head_sum", "whole", "", "check sum of the first 64 KiB of the first file"),
)

GEAR = _columns(
    "gear",
    ("body", "text", "", "label of the body: the kit's name, or body A, B ... in order of first frames"),
    ("clock_ahead_s", "real", "s", "how far the kit says the body's clock is ahead of true time"),
    ("clock_at", "time", "local time", "time as the camera's clock wrote it, sub-seconds where given"),
    ("sensor_width_mm", "real", "mm", "width of the sensor area used, as the picture is stored"),
    ("sensor_height_mm", "real", "mm", "height of the sensor area used"),
    ("sensor_err", "real", "fraction", "relative error of the sensor size"),
    ("sensor_source", "words", "", "kit, camera data, focal-plane resolution, 35 mm equivalent, or unknown"),
    ("sensor_note", "words", "", "disagreement of sources above 5 %: crop mode, resized, another aspect"),
    ("__sensor_other_pixels", "flag", "", "whether the picture's pixels are not those of the sensor"),
    ("lens_id", "text", "", "lens of the kit that was matched"),
    ("lens_source", "words", "", "how the lens was matched: exif, declared, estimated, assumed, or why not"),
    ("viewfinder", "text", "", "viewfinder of the body by the kit: optical, electronic, or null"),
    ("body_missing", "flag", "", "whether the kit names bodies, and not this one"),
    ("body_nearest", "text", "", "model in the kit that matches no frame and is nearest to this one's"),
    ("lens_missing", "flag", "", "whether the kit names lenses, and not this one"),
    ("lens_nearest", "text", "", "lens name in the kit that matches no frame and is nearest to this one's"),
    ("other_trip", "text", "", "before, after: weeks from the trip with most frames; null: of that trip"),
)

JOIN = _columns(
    "join",
    (
        "declaration",
        "text",
        "",
        "worn, bare, no-neutral (a grad or polariser may have been on), unknown or undeclared",
    ),
    ("declaration_source", "text", "", "photographer or estimated"),
    ("stitched", "flag", "", "declared as part of a stitched panorama, whose neighbours cover its corners"),
    ("declared_in", "words", "", "file and line of the span that covers the frame"),
    ("undeclared_reason", "words", "", "why no span covers the frame"),
    ("rig", "text", "", "identity of the rig; equal rigs share it"),
    ("rig_words", "words", "", "the rig in words"),
    ("__mount", "text", "", "identity of what carries the filters"),
    ("mount_words", "words", "", "what carries the filters, in words: rings and holders, no filters"),
    ("filters", "texts", "", "ids of the filters worn, back to front"),
    ("even_stops_min", "real", "stop", "least loss declared over the whole frame: neutrals and polariser"),
    ("even_stops_max", "real", "stop", "most loss declared over the whole frame"),
    ("grad_stops", "real", "stop", "loss of the declared grads where they are dense"),
    ("stops_words", "words", "", "the sum of stops as a reader can follow it"),
    (
        "neutral_stops",
        "real",
        "stop",
        "loss declared without grads and without a polariser; 0 with no-neutral, where even_stops are null",
    ),
    ("ungasketed", "texts", "", "filters in slots of 6 stops or more for which the kit gives no gasket"),
    ("eyepiece_covered", "flag", "", "whether the eyepiece was declared covered; null where nothing is said"),
)

MEASURE = _columns(
    "measure",
    ("scene", "text", "", "group of frames of one scene: same body and lens, close in time"),
    ("bracket", "text", "", "bracket the frame belongs to, or null"),
    (
        "bracket_by",
        "text",
        "",
        "who stepped it: camera, hand, or undecided (filters of the kit explain it as well)",
    ),
    ("light_min_ev100", "real", "stop", "light of the scene that frame and declared filters imply, least"),
    ("light_max_ev100", "real", "stop", "light of the scene that frame and declared filters imply, most"),
    ("scene_light_ev100", "real", "stop", "light of the scene by the frames it is compared with"),
    ("light_residual_stops", "real", "stop", "how far the implied light lies from the scene's range"),
    ("light_tolerance_stops", "real", "stop", "residual that metering and time can explain"),
    ("neighbour_light_ev100", "real", "stop", "light by the runs of frames before and after, and the sky"),
    ("neighbour_off_stops", "real", "stop", "how far the run of the frame lies beyond that light"),
    ("neighbour_spread_stops", "real", "stop", "how far runs of this trip usually lie off"),
    ("neighbour_alike", "flag", "", "whether one of them wears the same at the same setup: a set, perhaps"),
    ("neighbour_frames", "texts", "", "first frames of the runs that it was held against"),
    ("other_stops", "real", "stop", "neutrals of the kit that would bring the run into line; null: none"),
    ("other_filters", "texts", "", "their ids; empty: none on"),
    ("unit_slip", "words", "", "slip of unit in the kit that would explain the residual"),
    ("corner", "text", "", "identity of the predicted corner map; frames of one combination share it"),
    ("corner_angle_deg", "real", "deg", "field angle of the corner furthest beyond the cut"),
    ("corner_3pct_deg", "real", "deg", "field angle from which 3 % of the light is lost; null: nowhere"),
    ("corner_tenth_deg", "real", "deg", "field angle from which a tenth of a stop is lost"),
    ("corner_onset_deg", "real", "deg", "field angle from which half a stop is lost"),
    ("corner_one_deg", "real", "deg", "field angle from which one stop is lost"),
    ("corner_black_deg", "real", "deg", "field angle from which no light passes"),
    ("corner_early_deg", "real", "deg", "by how much the cut may come earlier than predicted"),
    ("corner_late_deg", "real", "deg", "by how much the cut may come later than predicted"),
    ("corner_loss_min_stops", "real", "stop", "most lost on the picture's edge, best end of the band"),
    ("corner_loss_stops", "real", "stop", "most lost on the picture's edge, predicted"),
    ("corner_loss_max_stops", "real", "stop", "most lost on the picture's edge, worst end of the band"),
    ("corner_verdict", "text", "", "clear, at risk, cut, or not measurable"),
    ("corner_verdict_by", "text", "", "predicted, measured, or both, where there is a verdict"),
    ("corner_leaning", "text", "", "what an undecided corner probably is: clear, a little dark, or cut"),
    ("corner_clear_share", "real", "fraction", "how likely an undecided corner is clear"),
    ("corner_cut_share", "real", "fraction", "how likely it is cut; else it is a little dark"),
    ("corner_likely_min_stops", "real", "stop", "the corner's loss is as likely as not above this, ..."),
    ("corner_likely_max_stops", "real", "stop", "... and below this"),
    ("corner_why", "words", "", "the opening that limits, or why there is no verdict"),
    ("corner_assumed", "texts", "", "dimensions that were assumed"),
    ("loss_top_left_stops", "real", "stop", "predicted loss in the corner, as the picture is stored"),
    ("loss_top_right_stops", "real", "stop", "predicted loss in the corner, as the picture is stored"),
    ("loss_bottom_left_stops", "real", "stop", "predicted loss in the corner, as the picture is stored"),
    ("loss_bottom_right_stops", "real", "stop", "predicted loss in the corner, as the picture is stored"),
    ("loss_top_stops", "real", "stop", "predicted loss at the middle of the side"),
    ("loss_bottom_stops", "real", "stop", "predicted loss at the middle of the side"),
    ("loss_left_stops", "real", "stop", "predicted loss at the middle of the side"),
    ("loss_right_stops", "real", "stop", "predicted loss at the middle of the side"),
    ("widest_clear_mm", "real", "mm", "widest focal length clear with this rig and f-number; inf: none is"),
    ("widest_clear_best_mm", "real", "mm", "the same at the best end of the band"),
    ("widest_clear_worst_mm", "real", "mm", "the same at the worst end of the band"),
    (
        "clean_crop",
        "text",
        "px",
        "largest crop of the same shape without half a stop lost: x, y, width, height",
    ),
    ("clean_crop_share", "real", "fraction", "area of the clean crop, of the whole picture"),
    ("clean_crop_worst_share", "real", "fraction", "the same at the worst end of the band"),
    ("natural_falloff_stops", "real", "stop", "the lens' own falloff in the corner; not added to the loss"),
    ("natural_falloff_source", "words", "", "where the natural falloff comes from, with its licence"),
    ("rule_verdict", "text", "", "rules of thumb: fine, doubtful, not fine, or silent"),
    ("rule_words", "words", "", "the rule of thumb that was used"),
    ("pixel_pitch_um", "real", "um", "distance between pixels; null for pictures that were resized"),
    ("airy_pixels", "real", "px", "diameter of the Airy disc (2.44 N wavelength, green) in pixels"),
    ("reference_frame", "text", "", "frame without filters that the arithmetic of a bulb time starts from"),
    ("reference_time_s", "real", "s", "exposure time of reference_frame"),
    ("reference_f_number", "real", "", "f-number of reference_frame"),
    ("reference_iso", "real", "", "ISO speed of reference_frame"),
    ("reference_minutes", "real", "min", "from the middle of one exposure to the middle of the other"),
    ("arithmetic_words", "words", "", "the time by the arithmetic, for each reading of the filter's mark"),
    (
        "arithmetic_off_stops",
        "real",
        "stop",
        "how much longer the time is than every reading; shorter: minus",
    ),
)

ESTIMATE = _columns(
    "estimate",
    ("sequence", "text", "", "bracket, panorama, focus stack, repeats, trial, marker, time-lapse, or null"),
    ("sequence_of", "text", "", "first frame of the sequence"),
    ("sequence_words", "words", "", "the evidence for the sequence"),
    ("setup", "text", "", "group of frames from one place and tripod position, named by its first frame"),
    ("__sun_altitude_deg", "real", "deg", "altitude of the sun's centre, without refraction"),
    ("__sky_ev100", "real", "stop", "light to expect over the exposure under a clear sky, without filters"),
    ("__sky_err_stops", "real", "stop", "95 % range of sky_ev100; weather is most of it"),
    ("__sky_slope_stops_per_min", "real", "stop/min", "how fast the expected light changes"),
    ("__sky_slope_err_stops_per_min", "real", "stop/min", "95 % range of sky_slope_stops_per_min"),
    ("sky_source", "words", "", "what place and time the sun comes from, or why there is none"),
    ("estimated_sets", "texts", "", "sets of neutrals it may have been, ids joined by +; empty: none"),
    ("estimated_stops", "real", "stop", "loss of the neutrals worn, by the exposures"),
    ("estimated_err_stops", "real", "stop", "error of estimated_stops"),
    ("estimated_class", "words", "", "the filters of the kit that it may have been"),
    ("__estimated_plain", "words", "", "the same without an extra that may or may not be on"),
    ("__estimated_several", "flag", "", "whether more than one set of filters may have been on"),
    ("estimated_sure", "text", "", "sure, likely or unsure"),
    ("estimated_probability", "real", "fraction", "chance of estimated_stops within half a stop"),
    ("estimated_words", "words", "", "the evidence"),
    ("estimated_independent_stops", "real", "stop", "the same without a look at the declaration"),
    ("estimated_independent_err_stops", "real", "stop", "its error"),
    ("estimated_independent_sure", "text", "", "sure, likely or unsure"),
)

PIXELS = _columns(
    "pixels",
    ("pixel_source", "words", "", "where the pixels come from: embedded preview, reduced decode ..., size"),
    ("__pixel_kind", "text", "", "the same without the size"),
    ("pixel_why", "words", "", "why no pixels were measured, or null"),
    ("clipped_top", "real", "fraction", "share of JPEG clipped pixels in the upper third, picture upright"),
    ("clipped_middle", "real", "fraction", "the same in the middle third"),
    ("clipped_bottom", "real", "fraction", "the same in the lower third"),
    ("black_top", "real", "fraction", "share of JPEG black pixels in the upper third"),
    ("black_middle", "real", "fraction", "the same in the middle third"),
    ("black_bottom", "real", "fraction", "the same in the lower third"),
    ("clipping_basis", "text", "", "full size, or reduced: the shares are the least there is"),
    ("picture_stops", "real", "stop", "mean light of the picture over middle grey, by the tone curve"),
    ("marker", "words", "", "why the frame seems only to mark a change (a cap, a hand, a label), or null"),
    ("pair_with", "text", "", "frame without filters it is compared with"),
    ("pair_stops", "real", "stop", "how much brighter that frame's picture is, measured"),
    ("pair_err_stops", "real", "stop", "95 % range of pair_stops"),
    ("pair_why", "words", "", "why the two cannot be compared, or null"),
    ("strength_filter", "text", "", "the one filter that tells the frame from the frame without"),
    ("strength_stops", "real", "stop", "strength of what was worn, measured, if the light held"),
    ("strength_err_stops", "real", "stop", "95 % range of strength_stops"),
    ("strength_light_err_stops", "real", "stop", "the same with changing light in it"),
    ("strength_verdict", "text", "", "as declared, off, or null where the ranges leave it open"),
    ("strength_why", "words", "", "why no strength could be measured, or null"),
    ("filter_stops", "real", "stop", "strength of strength_filter over the whole trip, measured"),
    ("filter_err_stops", "real", "stop", "95 % range of filter_stops"),
    ("cast_uv", "real", "", "colour cast of what was worn, as distance in u'v' (CIE 1976)"),
    ("cast_err_uv", "real", "", "95 % range of cast_uv"),
    ("cast_mired", "real", "mired", "the part of it along the daylight locus; positive is warmer"),
    ("cast_words", "words", "", "the direction of the cast in words"),
    ("cast_why", "words", "", "why no cast could be measured, or null"),
    ("shown_loss_stops", "real", "stop", "loss in the corners, mean of four, measured against pair_with"),
    ("shown_loss_err_stops", "real", "stop", "95 % range of shown_loss_stops"),
    ("shown_loss_threshold_stops", "real", "stop", "least loss that this pair can show"),
    ("shown_predicted_min_stops", "real", "stop", "predicted loss there, best end of the band"),
    ("shown_predicted_max_stops", "real", "stop", "the same at the worst end"),
    ("shown_loss_why", "words", "", "why no corner loss could be measured, or null"),
    ("contradiction", "words", "", "how the measured corners contradict the declared rig, or null"),
    ("stack", "text", "", "group of frames of one rig, lens, focal length and f-number"),
    ("stack_count", "whole", "", "different compositions in the group"),
    ("stack_loss_stops", "real", "stop", "corner loss by the group's compositions, measured"),
    ("stack_threshold_stops", "real", "stop", "least loss that counts as seen with so many"),
    ("stack_words", "words", "", "what so many compositions can show, or why they show nothing"),
    ("corner_hint", "words", "", "hint of dark corners in this frame alone, or null"),
)

PRINT = _columns(
    "print",
    (
        "kept",
        "text",
        "",
        "how the frame was chosen for a print: keep.txt, rating n, proposed; null: it was not",
    ),
    ("kept_why", "words", "", "where it was chosen, or why it is proposed"),
)

SIDECAR = _columns(
    "sidecar",
    ("sidecar", "texts", "", "XMP sidecars that the next three come from"),
    ("sidecar_time", "time", "local time", "time of capture that others wrote into a sidecar; used nowhere"),
    ("sidecar_title", "text", "", "title in a sidecar (dc:title)"),
    ("sidecar_rights", "text", "", "rights in a sidecar (dc:rights)"),
)

ALL = [*SCAN, *GEAR, *JOIN, *MEASURE, *ESTIMATE, *PIXELS, *PRINT, *SIDECAR]
BY_NAME = {column.name: column for column in ALL}


def written(*, private: bool = False) -> list[Column]:
    """The columns of the data files; `private` keeps serial numbers."""
    return [c for c in ALL if c.told and (private or not c.private)]


def schema(*, private: bool = False) -> pa.Schema:
    """Arrow schema of the data files, with unit and meaning in each field's metadata."""
    return pa.schema(
        [
            pa.field(c.name, c.kind.arrow, metadata={"unit": c.unit, "meaning": c.meaning, "step": c.step})
            for c in written(private=private)
        ]
    )


def filled(frames: pd.DataFrame, values: Mapping[str, Iterable[Any]]) -> pd.DataFrame:
    """The table with these columns, each in its type; None is null (an empty list in a column of lists).

    Raises KeyError for a column that is not declared here.
    """
    return frames.assign(**{name: BY_NAME[name].kind.series(v, frames.index) for name, v in values.items()})


def records(frames: pd.DataFrame, names: Iterable[str] | None = None) -> list[dict[str, Any]]:
    """The rows with those columns or all; columns that the table has not are left out.

    A null is NaN or NaT in columns that have it, else None.
    """
    kept = [str(name) for name in (frames if names is None else names) if name in frames]
    values = ([None if v is pd.NA else v for v in frames[name].tolist()] for name in kept)
    return [dict(zip(kept, row, strict=True)) for row in zip(*values, strict=True)]
