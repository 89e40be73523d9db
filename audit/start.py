"""Where the process begins: it can be told to stop before anything else is loaded."""

from __future__ import annotations

import os
import sys

CODE = 130
LINE = "interrupted; nothing was left half-written"


def main() -> None:
    """The `cornerstop` command; SIGTERM and SIGHUP count as an interrupt too."""
    try:
        from audit.disk import interrupt

        interrupt.watch(leave)
        from audit.cli.entry import main as command

        command()
    except BaseException as error:
        if not _interrupt(error):
            raise
        leave()  # told to stop before signals were heard, or between two steps of the command


def leave() -> None:
    """Ends the process at once, with its one line."""
    try:
        if sys.__stderr__ is not None:
            os.write(sys.__stderr__.fileno(), f"{LINE}\n".encode())
    finally:
        os._exit(CODE)


def _interrupt(error: BaseException | None) -> bool:
    """Whether an error is an interrupt, or was made of one: Python 3.11 does so while a class is made."""
    return error is not None and (isinstance(error, KeyboardInterrupt) or _interrupt(error.__cause__))
