"""Options that several commands share, and how they speak."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


def speaking(command: Any) -> Any:
    """--json and --quiet."""
    quiet = click.option("--quiet", "-q", is_flag=True, help="No progress and no summary.")
    as_json = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON, and only that.")
    return as_json(quiet(command))


@contextmanager
def progress(words: str, *, quiet: bool) -> Iterator[Callable[[int, int], None] | None]:
    """A bar with an estimate on a terminal's stderr; nothing of the kind in a pipe."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
