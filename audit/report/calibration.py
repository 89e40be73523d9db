"""A calibration as a text table, as JSON and as a drawing of measured against predicted."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from html import escape
from typing import Any

from audit.corners.calibration import Calibration, FrameCut
from audit.optics.pupils import DEPTH, DRIFT, GROWTH, WIDE_OPEN_BELOW

WIDE, MARGIN = 308.0, 56.0
NUMBERS = ("depth_mm", "drift_mm", "growth", "field")


def text(calibration: Calibration) -> str:
    """Depth, drift, one line a frame, frames passed over and notes; at most 100 columns where names allow."""
    lines = [*_headline(calibration), "", *_table(calibration.frames)]
    if calibration.passed_over:
        lines += ["", "not used:", *(f"  {frame}: {why}" for frame, why in calibration.passed_over)]
    doubts = [f"doubtful: {doubt.words}" for doubt in calibration.doubts]
    return "\n".join([*lines, "", *doubts, *(f"note: {note}" for note in calibration.notes)])


def _headline(calibration: Calibration) -> list[str]:
    """Two lines for each focal length, stopped down and wide open apart."""
    lines = []
    for one in calibration.fit.pupils:
        where = f"{one.focal_length_mm:g} mm" + f", below f/{WIDE_OPEN_BELOW:g}" * one.wide_open
        depth, drift, growth = (f"{one.value(n):.1f} ± {one.err(n):.1f}" for n in (DEPTH, DRIFT, GROWTH))
        lines.append(f"{calibration.lens_id} at {where}: entrance pupil {depth} mm behind the thread")
        lines.append(f"  off the axis: drift {drift} mm, growth {growth}")
    return lines


def _table(frames: tuple[FrameCut, ...]) -> list[str]:
    head = ("frame", "mm", "f/", "rig", "against", "loss", "measured", "predicted", "off by")
    rows = [
        (
            f.frame,
            f"{f.focal_length_mm:g}",
            f"{f.f_number:g}",
            f.rig_words,
            f.against,
            f"{f.level_stops:g} stop",
            f"{f.measured_deg:.2f} ± {1.96 * f.err_deg:.2f}°",
            f"{f.predicted_deg:.2f}°",
            f"{f.residual_deg:+.2f}°",
        )
        for f in frames
    ]
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]
    return [
        "  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip()
        for row in (head, *rows)
    ]


def as_json(calibration: Calibration) -> dict[str, Any]:
    """Plain data; errors are 95 % half widths except `err_deg`, which is 1 sigma."""
    fit = calibration.fit
    return {
        "lens": calibration.lens_id,
        "pupils": [
            {"focal_length_mm": one.focal_length_mm, "wide_open": one.wide_open}
            | {name: one.value(n) for n, name in enumerate(NUMBERS)}
            | {f"{name}_err": one.err(n) for n, name in enumerate(NUMBERS)}
            for one in fit.pupils
        ],
        "frames": [asdict(f) | {"residual_deg": f.residual_deg} for f in calibration.frames],
        "passed_over": [{"frame": frame, "reason": why} for frame, why in calibration.passed_over],
        "notes": list(calibration.notes),
        "doubts": [{"code": doubt.code, "words": doubt.words} for doubt in calibration.doubts],
        "values": {key: value for key, value in calibration.values.items() if value is not None},
    }


@dataclass(frozen=True)
class _Panel:
    """A square or low box with its own scales; y grows upwards."""

    top: float
    height: float
    x_range: tuple[float, float]
    y_range: tuple[float, float]

    def x(self, value: float) -> float:
        """Place of a value from left to right."""
        low, high = self.x_range
        return MARGIN + (value - low) / (high - low) * WIDE

    def y(self, value: float) -> float:
        """Place of a value from the bottom up."""
        low, high = self.y_range
        return self.top + self.height - (value - low) / (high - low) * self.height


def svg(calibration: Calibration) -> str:
    """Field angle measured against predicted with the line of agreement; below it what is left, in degrees.

    Bars are 95 % of the error of measuring.
    """
    frames = calibration.frames
    angles = [a for f in frames for a in (f.predicted_deg, f.measured_deg)]
    span = (min(angles) - 1.5, max(angles) + 1.5)
    most = max(0.5, *(abs(f.residual_deg) + 1.96 * f.err_deg for f in frames))
    upper, lower = _Panel(46, WIDE, span, span), _Panel(46 + WIDE + 46, 110, span, (-most, most))
    title = f"{calibration.lens_id}: where the corners are cut, measured against predicted"
    width, height = WIDE + 2 * MARGIN, lower.top + lower.height + 48
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
            f'height="{height:g}" role="img" font-family="sans-serif" font-size="12" fill="#222">',
            f"<title>{escape(title)}</title>",
            f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>',
            f'<text x="{width / 2:g}" y="24" text-anchor="middle">{escape(title)}</text>',
            *_box(upper, span, "measured", _ticks(span), "°"),
            *_box(lower, (0.0, 0.0), "off by", [-round(most / 2, 1), 0.0, round(most / 2, 1)], "°"),
            *(_mark(f, upper, f.measured_deg) for f in frames),
            *(_mark(f, lower, f.residual_deg) for f in frames),
            f'<text x="{width / 2:g}" y="{height - 10:g}" text-anchor="middle">predicted</text>',
            "</svg>",
            "",
        ]
    )


def _ticks(span: tuple[float, float]) -> list[float]:
    step = max(1, round((span[1] - span[0]) / 6))
    return [float(n) for n in range(int(span[0]) + 1, int(span[1]) + 1, step)]


def _box(panel: _Panel, line: tuple[float, float], name: str, levels: list[float], unit: str) -> list[str]:
    """Frame, line of agreement, numbers at both axes and the name of the upright one."""
    (left, right), bottom = panel.x_range, panel.top + panel.height
    middle = panel.top + panel.height / 2
    return [
        f'<rect x="{MARGIN:g}" y="{panel.top:g}" width="{WIDE:g}" height="{panel.height:g}" fill="none" '
        'stroke="#888"/>',
        f'<path d="M{panel.x(left):.1f} {panel.y(line[0]):.1f}L{panel.x(right):.1f} {panel.y(line[1]):.1f}" '
        'stroke="#888"/>',
        *(
            f'<text x="{panel.x(t):.1f}" y="{bottom + 18:g}" text-anchor="middle">{t:g}{unit}</text>'
            for t in _ticks(panel.x_range)
        ),
        *(
            f'<text x="{MARGIN - 8:g}" y="{panel.y(t) + 4:.1f}" text-anchor="end">{t:g}{unit}</text>'
            for t in levels
        ),
        f'<text transform="translate(14 {middle:g}) rotate(-90)" text-anchor="middle">{name}</text>',
    ]


def _mark(frame: FrameCut, panel: _Panel, value: float) -> str:
    words = f"{frame.frame}: {frame.focal_length_mm:g} mm f/{frame.f_number:g}, {frame.residual_deg:+.2f}°"
    x, err = panel.x(frame.predicted_deg), 1.96 * frame.err_deg
    return (
        f'<g stroke="#1b5e8a"><title>{escape(words)}</title>'
        f'<path d="M{x:.1f} {panel.y(value - err):.1f}V{panel.y(value + err):.1f}"/>'
        f'<circle cx="{x:.1f}" cy="{panel.y(value):.1f}" r="3" fill="#1b5e8a"/></g>'
    )
