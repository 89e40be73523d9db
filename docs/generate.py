"""Writes the reference pages that come from the code: checks, columns, commands, rules, widest focal lengths;
and the messages of the report for translators.

`make docs` runs it, `make docs PAGES="checks.md messages"` for some; a test says when one is out of date.
"""

from __future__ import annotations

import sys
from pathlib import Path

import catalogue
import click
import widest

from audit.check import load_checks
from audit.checks.corner_rules import SAME
from audit.cli.entry import cli
from audit.corners.predict import Geometry, predict
from audit.corners.prediction import CLEAR_STOPS, CUT_STOPS
from audit.declare import build_rig
from audit.declare.rig import Rig
from audit.declare.worn import Worn
from audit.finding import LEVELS
from audit.kit.kit import Kit
from audit.optics.rules import rule_of_thumb
from audit.report.templating import PRACTICE
from audit.table.columns import ALL

HERE = Path(__file__).parent
FOCAL_MM = (12, 14, 16, 17, 18, 20, 21, 24, 28, 35, 50)
FORMATS = {"full frame": (36.0, 24.0), "APS-C": (23.5, 15.6)}
KIT = Kit.model_validate(
    {
        "ring": [
            {"id": "standard", "thread_mm": 77},
            {"id": "recessed", "thread_mm": 77, "kind": "recessed"},
        ],
        "holder": [{"id": "first", "slots": 2}, {"id": "second", "slots": 2}],
    }
)
RIGS = {
    "standard ring": Worn(ring="standard", holder="first"),
    "recessed ring": Worn(ring="recessed", holder="first"),
    "standard ring, two holders": Worn(ring="standard", holder="first", second_holder="second"),
}
F_NUMBER, THREAD_MM = 8.0, 77.0


def checks() -> str:
    """docs/checks.md, from the text beside each check."""
    parts = ["# Checks", f"Levels: {', '.join(LEVELS)}. `cornerstop explain CHECK` prints the same text."]
    for info in (check.info for check in load_checks()):
        parts += [
            f"## {info.id}: {info.title}",
            info.why,
            f"- Threshold: {info.threshold}\n- Source: {info.source}\n- What to do: {info.advice}\n"
            f"- Needs: {', '.join(f'`{name}`' for name in info.needs)}",
        ]
    parts.append("† Common practice among photographers; there is no published source.")
    return "\n\n".join(parts).replace(PRACTICE, "†") + "\n"


def columns() -> str:
    """docs/columns.md, from audit/table/columns.py."""
    head = "# Columns of the frame table\n\n| column | unit | meaning | filled by |\n|---|---|---|---|\n"
    told = [c for c in ALL if c.told]
    asked = " (only with --with-serials)"
    rows = [f"| `{c.name}`{asked * c.private} | {c.unit} | {c.meaning} | {c.step} |" for c in told]
    return head + "\n".join(rows) + "\n"


def commands() -> str:
    """docs/commands.md, from the help texts."""
    parts = ["# Commands"]

    def add(command: click.Command, path: str, parent: click.Context | None) -> None:
        context = click.Context(command, info_name=path.rsplit(" ", 1)[-1], parent=parent)
        parts.append(f"## {path}\n\n```text\n{command.get_help(context)}\n```")
        if isinstance(command, click.Group):
            for name in command.list_commands(context):
                add(command.commands[name], f"{path} {name}", context)

    add(cli, "cornerstop", None)
    return "\n\n".join(parts) + "\n"


def rules() -> str:
    """docs/rules-of-thumb.md: the closed form beside the trade's rules."""
    parts = [
        "# Rules of thumb beside the computed corners",
        f"{THREAD_MM:g} mm thread at f/{F_NUMBER:g}, holders of two slots, all dimensions and the pupil "
        "depth left to the defaults (assumed), distortion unknown. Computed: loss in the corner from the "
        f"best to the worst end of the band; clear below {CLEAR_STOPS} stop at the worst end, cut from "
        f"{CUT_STOPS} stop at the best. Rules: common practice, no source. **Bold** where the two differ.",
    ]
    for format_name, (width, height) in FORMATS.items():
        for rig_name, worn in RIGS.items():
            rows = [_row(Geometry(f, F_NUMBER, width, height), build_rig(worn, KIT)) for f in FOCAL_MM]
            parts.append(f"## {format_name}, {rig_name}\n\n{HEAD}\n" + "\n".join(rows))
    return "\n\n".join([*parts, WHERE_THEY_DIFFER]) + "\n"


HEAD = """| mm | corner, degrees | half a stop lost from, degrees | loss, stops | computed | rule of thumb |
|---:|---:|---|---|---|---|"""
WHERE_THEY_DIFFER = """## Where they differ

- A standard ring below 24 mm is "not fine" by the rule; computed, it is undecided from about 16 to 21 mm on
  full frame. Which it is depends on the depth of the entrance pupil: once the kit states it, most of these
  become clear or cut.
- A recessed ring is "fine" by the rule at any focal length; computed, the holder's own bore, 7 mm further
  out, cuts the widest lenses all the same.
- For a second holder the rule and the band agree at 28 mm and above, and the rule is the more cautious one on
  APS-C at 20 and 21 mm.
- The rules know neither thread, f-number nor pupil: cautious by about what an unknown pupil costs."""


def _row(seen: Geometry, rig: Rig) -> str:
    made = predict(rig, seen, None)
    diagonal_mm = 2 * seen.half_diagonal_mm
    rule, _ = rule_of_thumb(
        seen.focal_length_mm, diagonal_mm, rig.ring_kind, bool(rig.second_holder), THREAD_MM
    )
    mark = "" if SAME[rule] == made.verdict else "**"
    loss = f"{_loss(made.loss_min_stops)} to {_loss(made.loss_max_stops)}"
    return (
        f"| {seen.focal_length_mm} | {made.angle_deg:.1f} | {made.onset_deg:.1f} "
        f"({made.onset_deg - made.early_deg:.1f} to {made.onset_deg + made.late_deg:.1f}) | {loss} | "
        f"{mark}{made.verdict}{mark} | {mark}{rule}{mark} |"
    )


def _loss(stops: float) -> str:
    return "black" if stops > 10 else f"{stops:.2f}"


PAGES = {
    "checks.md": checks,
    "columns.md": columns,
    "commands.md": commands,
    "rules-of-thumb.md": rules,
    "widest-clear.md": widest.page,
}

MESSAGES = "messages"
"""What the catalogues are called among the pages."""

if __name__ == "__main__":
    wanted = sys.argv[1:] or [*PAGES, MESSAGES]
    for name in wanted:
        written = catalogue.pages() if name == MESSAGES else {HERE / name: PAGES[name]()}
        for path, text in written.items():
            path.write_text(text, encoding="utf-8")
            print(path.relative_to(HERE.parent))
