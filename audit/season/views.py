"""The views that a question may be put to, with every column; docs/season.md is kept true by a test."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ViewColumn:
    """One column of a view: what it is, in which unit, how it comes from the views below it."""

    name: str
    kind: str
    unit: str
    meaning: str


@dataclass(frozen=True)
class View:
    """One view; `one` says what a row is, `sql` how it is made of the tables that were read."""

    name: str
    one: str
    sql: str
    columns: tuple[ViewColumn, ...]


def _columns(*lines: tuple[str, str, str, str]) -> tuple[ViewColumn, ...]:
    return tuple(ViewColumn(*line) for line in lines)


PLAIN = {
    "captured_at": "TIMESTAMP",
    "body": "VARCHAR",
    "lens": "VARCHAR",
    "focal_length_mm": "DOUBLE",
    "f_number": "DOUBLE",
    "exposure_time_s": "DOUBLE",
    "iso": "DOUBLE",
    "declaration": "VARCHAR",
    "declaration_source": "VARCHAR",
    "rig": "VARCHAR",
    "corner_verdict": "VARCHAR",
    "corner_verdict_by": "VARCHAR",
    "corner_loss_min_stops": "DOUBLE",
    "corner_loss_stops": "DOUBLE",
    "corner_loss_max_stops": "DOUBLE",
    "clean_crop_share": "DOUBLE",
    "strength_filter": "VARCHAR",
    "strength_stops": "DOUBLE",
    "strength_light_err_stops": "DOUBLE",
    "filter_stops": "DOUBLE",
    "filter_err_stops": "DOUBLE",
}
"""Columns of frames.parquet that a view has as they are, with their type here."""
OF_RIG = {
    "rig_words": "VARCHAR",
    "mount_words": "VARCHAR",
    "filters": "VARCHAR[]",
    "even_stops_min": "DOUBLE",
    "even_stops_max": "DOUBLE",
    "grad_stops": "DOUBLE",
}
"""Those that are the same for every frame of a rig."""
INNER = {"frame": "VARCHAR", "setup": "VARCHAR", "size_bytes": "BIGINT", "clock_at": "TIMESTAMP"}
"""Those that are read and not shown: names hold folders, which are places."""
ANSWERED = frozenset(
    {
        *("captured_at", "lens", "focal_length_mm", "declaration", "declaration_source", "rig", "rig_words"),
        *("corner_verdict", "corner_verdict_by", "strength_filter", "filter_stops", "filter_err_stops"),
        *("mount_words", "filters"),
    }
)
"""Those that our own five questions take."""
NEEDED = {**INNER, **PLAIN, **OF_RIG}


def identity(one: str, other: str) -> str:
    """SQL for a number that stands for two values: 52 bits, which JSON and spreadsheets keep whole."""
    return f"(hash({one}, {other}) >> 12)::BIGINT"


_ID = ("frame_id", "BIGINT", "", "identity of the frame")
_ARCHIVE = ("archive", "INTEGER", "", "number of the archive, in the order of the paths")
VIEWS = (
    View(
        "archives",
        "an archive",
        "SELECT * FROM _archives",
        _columns(
            _ARCHIVE,
            ("schema_version", "INTEGER", "", "number of the data format that it was written in"),
            ("program", "VARCHAR", "", "version of cornerstop that wrote it"),
            ("has_kit", "BOOLEAN", "", "whether a kit that can be read lies in it"),
            ("frames", "BIGINT", "", "frames that count"),
            ("repeated_frames", "BIGINT", "", "frames left out, since another archive holds the same bytes"),
            ("first_at", "TIMESTAMP", "local time", "time of its first frame"),
            ("last_at", "TIMESTAMP", "local time", "time of its last frame"),
        ),
    ),
    View(
        "frames",
        "a frame",
        f"SELECT archive, frame_id, setup_id, name, {', '.join(PLAIN)} FROM _frames",
        _columns(
            _ARCHIVE,
            _ID,
            ("setup_id", "BIGINT", "", "frames of one place and tripod position share it, in one archive"),
            ("name", "VARCHAR", "", "name of its first file, without folder and ending"),
            (
                "captured_at",
                "TIMESTAMP",
                "local time",
                "time of capture, set right by the kit's clock_ahead_s",
            ),
            ("body", "VARCHAR", "", "body by the kit, or by the order of first frames"),
            ("lens", "VARCHAR", "", "lens name as written"),
            ("focal_length_mm", "DOUBLE", "mm", "focal length as written, else by the kit"),
            ("f_number", "DOUBLE", "", "f-number as written, else by kit or declaration"),
            ("exposure_time_s", "DOUBLE", "s", "exposure time as written"),
            ("iso", "DOUBLE", "", "ISO speed as written"),
            ("declaration", "VARCHAR", "", "worn, bare, no-neutral, unknown or undeclared"),
            ("declaration_source", "VARCHAR", "", "photographer or estimated"),
            ("rig", "VARCHAR", "", "what was on, see rigs"),
            ("corner_verdict", "VARCHAR", "", "clear, at risk, cut, or not measurable"),
            ("corner_verdict_by", "VARCHAR", "", "predicted, measured, or both"),
            ("corner_loss_min_stops", "DOUBLE", "stop", "most lost on the edge, best end, predicted"),
            ("corner_loss_stops", "DOUBLE", "stop", "most lost on the edge, predicted"),
            ("corner_loss_max_stops", "DOUBLE", "stop", "most lost on the edge, worst end, predicted"),
            ("clean_crop_share", "DOUBLE", "fraction", "area of the largest clean crop, predicted"),
            ("strength_filter", "VARCHAR", "", "the one filter that tells it from a frame without"),
            ("strength_stops", "DOUBLE", "stop", "strength of it in this frame, measured"),
            ("strength_light_err_stops", "DOUBLE", "stop", "its 95 % range, changing light in it"),
            ("filter_stops", "DOUBLE", "stop", "strength of it over the whole archive, measured"),
            ("filter_err_stops", "DOUBLE", "stop", "its 95 % range"),
        ),
    ),
    View(
        "rigs",
        "a rig that was on a frame",
        "SELECT * FROM _rigs",
        _columns(
            ("rig", "VARCHAR", "", "identity of the rig; equal rigs share it in all archives"),
            ("rig_words", "VARCHAR", "", "the rig in words"),
            ("mount_words", "VARCHAR", "", "rings and holders in words, without filters; null: none"),
            ("filters", "VARCHAR[]", "", "ids of the filters, back to front"),
            ("even_stops_min", "DOUBLE", "stop", "least loss declared over the whole frame"),
            ("even_stops_max", "DOUBLE", "stop", "most loss declared over the whole frame"),
            ("grad_stops", "DOUBLE", "stop", "declared loss of the grads where they are dense"),
        ),
    ),
    View(
        "findings",
        "a frame in a finding",
        "FROM _findings SEMI JOIN _frames USING (archive, frame_id)",
        _columns(
            _ARCHIVE,
            _ID,
            ("check_id", "VARCHAR", "", "the check, as `cornerstop explain` lists them"),
            ("level", "VARCHAR", "", "act, look or note"),
        ),
    ),
    View(
        "carried",
        "a filter in the kit of an archive",
        "SELECT * FROM _carried",
        _columns(_ARCHIVE, ("filter", "VARCHAR", "", "id of the filter or screw-in")),
    ),
    View(
        "measurements",
        "a filter measured in an archive",
        """SELECT archive, strength_filter AS filter, median(captured_at) AS measured_at,
        any_value(filter_stops) AS stops, any_value(filter_err_stops) AS err_stops, count(*) AS frames
        FROM _frames WHERE filter_stops IS NOT NULL AND filter_err_stops > 0 GROUP BY ALL""",
        _columns(
            _ARCHIVE,
            ("filter", "VARCHAR", "", "id of the filter"),
            ("measured_at", "TIMESTAMP", "local time", "middle of the frames it was measured in"),
            ("stops", "DOUBLE", "stop", "its strength, measured"),
            ("err_stops", "DOUBLE", "stop", "95 % range of it"),
            ("frames", "BIGINT", "", "frames that it was measured in"),
        ),
    ),
)
