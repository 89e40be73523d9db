"""A command of cornerstop with its stack looked at some hundred times a second: what it did, as JSON.

    python -P benchmarks/sampled.py FILE audit TRIP ...

Nothing is imported but the standard library and whichever `audit` stands first on PYTHONPATH, so that an
older state of the program is looked at by the same means; one that reads by workers is told to use none.
Each look counts the processor time since the one before, without that of looking: what else the machine does
hardly counts.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from pathlib import Path
from types import FrameType

APART_S, SWITCH_S = 0.003, 5e-5
"""Seconds between looks, and for which the thread that is looked at may go on once one is due: were it waited
for, most looks would find it where it lets go of its own accord, as it does while files are read."""
OURS, OUTERMOST = "audit.", "__main__.<module>"

Stack = tuple[str, ...]


def name_of(frame: FrameType) -> str:
    """Module and function, what is defined inside of a function under its name; a template by its file."""
    module, code = frame.f_globals.get("__name__"), frame.f_code
    if module is None and "templates" in Path(code.co_filename).parts:
        return f"{OURS}templates.{Path(code.co_filename).stem}"
    return f"{module}.{code.co_qualname.partition('.<locals>')[0]}"


def stack_of(frame: FrameType | None) -> Stack | None:
    """Functions of ours from the outermost, below them the library that the innermost one has called.

    None where it went on meanwhile, so that what was in hand is over and no longer leads to the outermost.
    """
    names: list[str] = []
    library = name = ""
    while frame is not None:
        name = name_of(frame)
        top = name.partition(".")[0]
        if not name.startswith(OURS):
            library = library if names or top in sys.stdlib_module_names else top
        elif not names or names[-1] != name:
            names.append(name)
        frame = frame.f_back
    if name != OUTERMOST:
        return None
    return (*reversed(names), *((library,) if library and library != "__main__" else ()))


class Looker(threading.Thread):
    """Looks at the thread that began it until it is told to stop; `took` holds seconds by stack."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.took: dict[Stack, float] = {}
        self._over = threading.Event()
        self._whom = threading.get_ident()

    def run(self) -> None:
        """Looks."""
        spent = time.process_time() - time.thread_time()
        while not self._over.wait(APART_S):
            now = time.process_time() - time.thread_time()
            stack = stack_of(sys._current_frames().get(self._whom))
            if stack is not None:  # else the next look counts for both
                self.took[stack] = self.took.get(stack, 0.0) + now - spent
                spent = now

    def stop(self) -> None:
        """The last look is over when this returns."""
        self._over.set()
        self.join()


def main() -> None:
    """Runs the command, writes [stack, seconds] in the order in which they were first seen."""
    sys.setswitchinterval(SWITCH_S)
    looker = Looker()
    looker.start()
    from audit.cli.audit import audit_command
    from audit.cli.entry import run

    by_workers = any("--workers" in option.opts for option in audit_command.params)
    code = run([*sys.argv[2:], *(("--workers", "0") if by_workers else ())])
    looker.stop()
    Path(sys.argv[1]).write_text(json.dumps(list(looker.took.items())), encoding="utf-8")
    sys.exit(code)


if __name__ == "__main__":
    main()
