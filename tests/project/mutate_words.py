"""Every message of audit/ replaced by another text, and the same trip audited again: nothing may change.

`python tests/project/mutate_words.py` runs the first two days of the demo trip as it is, with every message
changed, and with those of one room at a time; it prints what differs and ends with 1 where anything does.
A fresh process is needed for each, since many messages are made while modules load.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from string import Formatter
from types import FrameType
from typing import Any
from unittest import mock
from zlib import crc32

ROOT = Path(__file__).parents[2]
ROOMS = ("scan", "kit", "declare", "exposure", "corners", "pixels", "checks", "report")
EVERY = "all"

CODES = frozenset(
    {
        # columns whose values are codes, by their meaning in audit/table/columns.py
        *("third", "half", "written", "apex", "kit", "declared"),  # basis of exposure time and f-number
        *("worn", "bare", "no-neutral", "unknown", "undeclared"),  # declaration
        *("photographer", "estimated"),  # declaration_source; lens_source besides
        *("exif", "assumed"),  # lens_source
        *("clear", "at risk", "cut", "not measurable"),  # corner_verdict
        *("predicted", "measured", "predicted and measured"),  # corner_verdict_by
        "dark",  # corner_leaning
        *("fine", "doubtful", "not fine", "silent"),  # rule_verdict
        *("as declared", "off"),  # strength_verdict
        *("sure", "likely", "unsure"),  # estimated_sure
        *("bracket", "panorama", "focus stack", "repeats", "trial", "marker", "time-lapse"),  # sequence
        *("optical", "electronic"),  # viewfinder
        *("full size", "reduced"),  # clipping_basis
        *("embedded preview", "reduced decode", "full decode", "raw half-size"),  # pixel_kind; kept on disk
        *("auto", "manual", "auto bracket", "fixed"),  # exposure_mode, exposure_program, white_balance
        "proposed",  # kept
        *("before", "after"),  # other_trip
        *("act", "look", "note"),  # levels
    }
)
"""Words that are values a program reads: the table's meanings name them."""

OF_WORDS = frozenset({"notes", "exposure_program", "metering", "corner_assumed"})
"""Columns of words that nothing asks for, besides those whose kind says that they hold sentences."""

TEXTS = ("TITLE", "THRESHOLD", "SOURCE", "ADVICE")
"""Texts of a check that do not go through audit.message.text."""


def changed(text: str) -> str:
    """The message with other words and the same placeholders."""
    if text in CODES:
        return text
    made = []
    for words, name, form, conversion in Formatter().parse(text):
        made.append(f"<{crc32(words.encode()):x}>" if words.strip() else words)
        if name is not None:
            made.append(
                "{" + name + (f"!{conversion}" if conversion else "") + (f":{form}" if form else "") + "}"
            )
    return "".join(made)


class Mutation:
    """Changes the words that a room makes, from before its modules are loaded; counts the messages."""

    def __init__(self, room: str) -> None:
        self._room, self.messages = room, set[str]()

    def install(self) -> None:
        """Puts changed functions in the place of those of audit.message.text."""
        from audit.message import text as say

        was_say, was_plural = say.say, say.plural
        new: dict[str, Any] = {
            "marked": lambda text: self._of(text, sys._getframe(1)),
            "say": lambda message, /, **v: was_say(self._of(message, sys._getframe(1)), **v),
            "plural": lambda n, one, many, /, **v: was_plural(
                n, self._of(one, sys._getframe(1)), self._of(many, sys._getframe(1)), **v
            ),
        }
        vars(say).update(new)

    def checks(self) -> None:
        """Changes the texts that stand in the checks as they are."""
        import pkgutil
        from importlib import import_module

        from audit import checks

        for module in pkgutil.iter_modules(checks.__path__):
            loaded = import_module(f"audit.checks.{module.name}")
            if not module.name.startswith("_") and self._room in (EVERY, "checks"):
                vars(loaded).update({name: f"<{name} of {loaded.ID}>" for name in TEXTS})

    def _of(self, message: str, caller: FrameType) -> str:
        place = str(caller.f_globals["__name__"]).split(".")
        room = place[1] if len(place) > 1 else ""
        if not self._room or self._room not in (EVERY, room):
            return message
        other = changed(message)
        if other != message:
            self.messages.add(message)
        return other


def shape(value: Any) -> Any:
    """What is left of a record of the report without its words: numbers, and whether there is a text."""
    if isinstance(value, str):
        return bool(value)
    if isinstance(value, dict):
        return sorted((str(k), shape(v)) for k, v in value.items())
    if isinstance(value, list | tuple):
        return sorted((shape(one) for one in value), key=str)
    if hasattr(value, "__dataclass_fields__"):
        return [shape(getattr(value, name)) for name in value.__dataclass_fields__]
    return value if isinstance(value, bool | int | float) or value is None else type(value).__name__


def measured(dump: Path, room: str) -> dict[str, Any]:
    """All that must not depend on words, of the trip audited with the words of a room changed."""
    mutation = Mutation(room)
    mutation.install()
    mutation.checks()
    from audit.cli.audit import exit_code
    from audit.jobs.audit import audit
    from audit.jobs.draft import draft_dump
    from audit.report.hints import hints
    from audit.report.pdf_view import paper
    from audit.report.view import page
    from audit.table.columns import BY_NAME

    result = audit(dump, kit_path=dump / "kit.toml")
    words = OF_WORDS | {name for name, column in BY_NAME.items() if column.kind.name == "words"}
    shown, drafted = page(result), draft_dump(dump, kit_path=dump / "kit.toml")
    return {
        **{f"column {name}": _cells(result.frames[name], sentence=name in words) for name in BY_NAME},
        "findings": sorted([f.check, f.level, list(f.frames)] for f in result.findings),
        "checks": [[run.info.id, run.status, run.count] for run in result.checks],
        "mistakes": [[m.path, m.line, m.key, m.level] for m in result.mistakes],
        "exit code": exit_code(result),
        "evidence": sorted(result.evidence),
        "filters": [[f.filter, f.stops, f.err_stops] for f in result.filters],
        "hints": len(hints(result)),
        "report": shape(shown),
        "paper": shape(paper(result, shown)),
        "drafts": [[s.folder, s.frames, s.sure, s.asked] for d in drafted.drafts for s in d.spans],
        "messages": len(mutation.messages),
    }


def _cells(column: Any, *, sentence: bool) -> list[str]:
    if sentence:
        return [str(len(v) if isinstance(v, list) else v == v and v is not None) for v in column]
    return [repr(v) for v in column]


def write_part(folder: Path, *, days: int = 2) -> Path:
    """The dump of the first or the first two days of the demo trip."""
    from audit.demo import plan, trip

    # The truth table is that of the whole trip.
    part = (*plan.FIRST_DAY, *plan.SECOND_DAY) if days == 2 else plan.FIRST_DAY
    with mock.patch.multiple(trip, TRIP=part, truth_table=lambda made, tags: {}):
        return trip.write_trip(folder, small=True)


def run(dump: Path, room: str) -> dict[str, Any]:
    """`measured` in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-P", __file__, str(dump), room],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"{room or 'as it is'}: {done.stderr[-2000:]}")
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def differences(plain: dict[str, Any], other: dict[str, Any]) -> list[str]:
    """What differs between two runs, by name."""
    return [name for name, value in plain.items() if name != "messages" and value != other[name]]


def main() -> int:
    """The full run."""
    if len(sys.argv) == 3:
        sys.stdout.write(json.dumps(measured(Path(sys.argv[1]), sys.argv[2]), default=str))
        return 0
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        dump = write_part(Path(folder) / "demo")
        plain = run(dump, "")
        for room in (EVERY, *ROOMS):
            other = run(dump, room)
            found = differences(plain, other)
            wrong += len(found)
            counts = f"{other['messages']} messages changed, {len(plain) - 1} results compared"
            sys.stdout.write(f"{room}: {counts}; differ: {', '.join(found) or 'none'}\n")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
