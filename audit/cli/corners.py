"""`cornerstop corners`: what a rig would cut, asked before or after a trip."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.cli.options import FILE, speaking
from audit.cli.spoken import Command

if TYPE_CHECKING:
    from audit.corners.question import Question


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
    "  cornerstop corners --kit kit.toml --lens w16 --rig low=ring=r77low --rig high=ring=r77,front\n"
    "  cornerstop corners --kit kit.toml --all\n"
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
    "--body",
    "bodies",
    metavar="NAME",
    multiple=True,
    help="Body of the kit; may be repeated. Default: all of them, a table for each size of sensor.",
)
@click.option(
    "--sensor", "sensor_mm", type=SIZE, metavar="WxH", help="Sensor, mm, in the place of the bodies'."
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
    "--rig",
    "rigs",
    metavar="NAME=WHAT,...",
    multiple=True,
    help="Several rigs side by side; may be repeated. WHAT are the options above without dashes: "
    "ring=r77,holder=main,front (also behind=A+B, slots, second, turn, second-turn, hood). What a rig "
    "leaves out is as the options beside it say.",
)
@click.option(
    "--all", "whole", is_flag=True, help="Every lens of the kit with every ring, holder and front ring."
)
@click.option(
    "--svg", type=click.Path(dir_okay=False, path_type=Path), help="Write the frame as an SVG file."
)
@speaking
def corners_command(
    kit: Path | None,
    bodies: tuple[str, ...],
    rigs: tuple[str, ...],
    whole: bool,
    svg: Path | None,
    as_json: bool,
    quiet: bool,
    **asked: Any,
) -> int:
    """Say what a rig cuts, from which focal length on it is clear, and what would help most.

    Exit code 1 when a rig cuts at a focal length and f-number asked for. No picture is needed.
    """
    from audit.corners.question import Question
    from audit.jobs.corners import ask_all, kit_at

    asked["behind"] = tuple(name.strip() for name in (asked["behind"] or "").split(",") if name.strip())
    question = Question(**asked)
    if whole:
        _refuse_beside_all({**asked, "rigs": rigs, "svg": svg})
        return _whole_kit(question, kit, bodies, as_json, quiet)
    one = ("--svg",) if svg is not None else ()
    answers = ask_all(question, kit_at(kit), bodies=bodies, rigs=rigs, one=one, helps=as_json)
    if svg is not None:
        from audit.disk.signed import put_signed
        from audit.report.corner_svg import svg as drawing

        put_signed(svg, drawing(answers.told[0].answer))
    if as_json:
        from audit.report.corner_data import answers_data

        speak.as_json(answers_data(answers))
    elif not quiet:
        from audit.report.terminal import room
        from audit.report.terminal_rigs import answer_lines

        speak.styled(answer_lines(answers, room()), room())
    return int(answers.cuts)


def _refuse_beside_all(asked: dict[str, Any]) -> None:
    """Options that choose a rig, or say what is in the kit already."""
    taken = {"lens", "f_numbers", "sensor_mm"}
    for option in corners_command.params:
        if option.name in asked and option.name not in taken and asked[option.name] not in (None, (), False):
            raise click.UsageError(
                f"{option.opts[0]}: --all looks at every rig of the kit; leave one of the two out "
                "(beside --all go --lens, --body, --sensor, --f-number)"
            )


def _whole_kit(
    question: Question, kit: Path | None, bodies: tuple[str, ...], as_json: bool, quiet: bool
) -> int:
    from audit.jobs.corners import kit_at
    from audit.jobs.whole_kit import ask_kit

    found = ask_kit(question, kit_at(kit), bodies)
    if as_json:
        from audit.report.corner_data import kit_data

        speak.as_json(kit_data(found))
    elif not quiet:
        from audit.report.terminal import room
        from audit.report.terminal_rigs import kit_lines

        speak.styled(kit_lines(found, room()), room())
    return int(found.cuts)
