"""`cornerstop corners`: what a rig would cut, asked before or after a trip."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import click

from audit.cli import speak
from audit.cli.options import FILE, speaking
from audit.cli.spoken import Command


class Real(click.FloatRange):
    """A finite number within limits."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number; click itself lets nan through every limit."""
        number = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail(f"{value!r} is no number to reckon with", param, ctx)
        return number


class Numbers(click.ParamType):
    """Two numbers with a sign between, like 36x24 or 0,5."""

    def __init__(self, sign: str, example: str, *, positive: bool) -> None:
        self.sign, self.name, self.positive = sign, example, positive

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """(first, second) in mm."""
        if isinstance(value, tuple):
            return value
        parts = re.split(rf"\s*{self.sign}\s*", value.strip().lower().removesuffix("mm").strip())
        try:
            first, second = (float(part) for part in parts)
        except ValueError:
            self.fail(f"{value!r} should be like {self.name}, in mm", param, ctx)
        limit = 0.0 if self.positive else -100.0
        if not (limit < first < 1000 and limit < second < 1000):
            self.fail(f"{value!r} is no size in mm; write it like {self.name}", param, ctx)
        return first, second


SIZE, SHIFT = Numbers("x", "36x24", positive=True), Numbers(",", "0,5", positive=False)
MM, DEPTH = Real(min=0, min_open=True, max=2000), Real(-500, 500)
DEGREES = Real(-360, 360)


@click.command(
    "corners",
    cls=Command,
    epilog="\b\nExample:\n  cornerstop corners --kit kit.toml --lens w16 --holder main --front\n"
    "  cornerstop corners --focal 16 --focal 20 --sensor 36x24 --thread 77 --ring recessed",
)
@click.option(
    "--kit", type=FILE, help="Kit file. Default: kit.toml here, beside it, or in the configuration."
)
@click.option("--lens", metavar="ID", help="Lens of the kit. Or give --focal, --sensor and --thread.")
@click.option(
    "--focal", "focal_mm", type=MM, metavar="MM", multiple=True, help="Focal length, mm; may be repeated."
)
@click.option(
    "--f-number", "f_numbers", type=MM, metavar="N", multiple=True, help="f-number; may be repeated."
)
@click.option(
    "--sensor", "sensor_mm", type=SIZE, metavar="WxH", help="Sensor, mm. Default: that of the kit's bodies."
)
@click.option("--thread", "thread_mm", type=MM, metavar="MM", help="Filter thread of the lens, mm.")
@click.option(
    "--depth", "depth_mm", type=DEPTH, metavar="MM", help="Entrance pupil behind the thread's front edge, mm."
)
@click.option("--depth-err", "depth_err_mm", type=Real(0, 500), metavar="MM", help="Its error, mm (95 %).")
@click.option("--ring", metavar="ID", help="Ring of the kit, or standard or recessed.")
@click.option("--behind", metavar="ID,...", help="Step rings and screw-ins below the ring, from the lens on.")
@click.option("--holder", metavar="ID", help="Holder of the kit, or default for one of usual dimensions.")
@click.option(
    "--slots", type=click.IntRange(0, 10), metavar="N", help="Slots of the holder; 0 for no holder."
)
@click.option("--front", is_flag=True, help="A round polariser on the front ring.")
@click.option("--second", metavar="ID", help="Second holder, on the first: of the kit, or default.")
@click.option(
    "--turn",
    "turn_deg",
    type=DEGREES,
    metavar="DEG",
    help="Turn of the holder, degrees clockwise from behind.",
)
@click.option(
    "--second-turn", "second_turn_deg", type=DEGREES, metavar="DEG", help="Turn of the second holder."
)
@click.option(
    "--shift", "shift_mm", type=SHIFT, metavar="X,Y", help="Shift of the lens to the right and up, mm."
)
@click.option("--hood", metavar="ID", help="Hood of the kit.")
@click.option(
    "--svg", type=click.Path(dir_okay=False, path_type=Path), help="Write the frame as an SVG file."
)
@speaking
def corners_command(kit: Path | None, svg: Path | None, as_json: bool, quiet: bool, **asked: Any) -> int:
    """Say what a rig cuts, from which focal length on it is clear, and what would help most.

    Exit code 1 when the rig cuts at a focal length and f-number asked for. No picture is needed.
    """
    from audit.corners.question import Question
    from audit.jobs.corners import answer_from

    asked["behind"] = tuple(name.strip() for name in (asked["behind"] or "").split(",") if name.strip())
    answer = answer_from(Question(**asked), kit)
    if svg is not None:
        from audit.disk.signed import put_signed
        from audit.report.corner_svg import svg as drawing

        put_signed(svg, drawing(answer))
    if as_json:
        from audit.report.corner_data import as_data

        speak.as_json(as_data(answer))
    elif not quiet:
        from audit.report.terminal import WIDTH, lines

        speak.styled(lines(answer), WIDTH)
    return int(answer.cuts)
