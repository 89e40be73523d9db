"""Options that several commands share, and how they speak."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audit.cli import speak
from audit.message.shown import shown_name

if TYPE_CHECKING:
    from audit.crew.crew import Crew
    from audit.disk.dumps import Dump
    from audit.disk.runs import Left

FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


class _Dumps(click.Argument):
    """Called by the name of one in messages."""

    def get_error_hint(self, ctx: click.Context | None) -> str:
        return "'DUMP'"


DUMPS = click.argument("dumps", cls=_Dumps, type=FOLDER, nargs=-1, required=True, metavar="DUMP...")
"""One dump, or several that are one trip."""


LATITUDE, LONGITUDE = 90.0, 180.0


def _place(
    _context: click.Context, _option: click.Parameter, value: str | None
) -> tuple[float, float] | None:
    if value is None:
        return None
    try:
        latitude, longitude = (float(part) for part in value.split(","))
    except ValueError:
        raise click.BadParameter("write degrees as LATITUDE,LONGITUDE: 61.5,5.2 (west is negative)") from None
    if not (abs(latitude) <= LATITUDE and abs(longitude) <= LONGITUDE):
        raise click.BadParameter(f"{value}: no such place; latitude comes first, west and south are negative")
    return latitude, longitude


PLACE = click.option(
    "--place",
    callback=_place,
    metavar="LAT,LON",
    help="Where it was photographed, in degrees, for the sun's height. Default: the files, else the kit.",
)


PIXELS = click.option(
    "--pixels",
    type=click.Choice(["preview", "full", "off"]),
    default="preview",
    show_default=True,
    help="What is measured of the pictures: their embedded previews, every picture decoded, or nothing.",
)
NO_CACHE = click.option(
    "--no-cache", is_flag=True, help="Keep nothing for the next run, and use nothing kept."
)


def speaking(command: Any) -> Any:
    """--json and --quiet."""
    quiet = click.option("--quiet", "-q", is_flag=True, help="No progress and no summary.")
    as_json = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON, and only that.")
    return as_json(quiet(command))


def reading(command: Any) -> Any:
    """--file-seconds and --workers: the command runs with a crew that reads its files."""

    @wraps(command)
    def with_crew(
        *words: Any,
        file_seconds: float,
        workers: int | None,
        engine: str = "local",
        scheduler: str | None = None,
        **named: Any,
    ) -> Any:
        far = engine == "dask" or scheduler is not None
        with _crew(workers, file_seconds, far=far, at=scheduler) as crew:
            crew.begin("audit.scan.job")  # before the heavy packages are loaded here: it loads beside them
            code = command(*words, **named)
        if crew.lost:
            speak.err(f"workers lost on the way: {crew.lost}; others did their tasks again")
        return code

    seconds = click.option(
        "--file-seconds",
        type=click.FloatRange(0.1, 3600),
        default=5.0,
        show_default=True,
        help="Most work for one try at a file, in seconds of the processor's time.",
    )
    number = click.option(
        "--workers",
        type=click.IntRange(0, 64),
        help="Most processes that read files; 0 reads them in the command's own, where a file can do harm. "
        "Default: one for each processor, up to 8.",
    )
    return seconds(number(with_crew))


def spreading(command: Any) -> Any:
    """--engine and --scheduler, for a command that is `reading`."""
    engine = click.option(
        "--engine",
        type=click.Choice(["local", "dask"]),
        default="local",
        show_default=True,
        help="Whose processes read the files: the command's own, or workers of dask.distributed; "
        "needs cornerstop[scale].",
    )
    scheduler = click.option(
        "--scheduler",
        metavar="ADDRESS",
        help="A cluster that runs already (tcp://host:8786) and sees DUMP under the same path; "
        "implies --engine dask.",
    )
    return engine(scheduler(command))


def _crew(workers: int | None, limit_s: float, *, far: bool, at: str | None) -> Crew:
    if far:
        from audit.scale.cluster import Cluster

        return Cluster(at, workers, limit_s)
    from audit.crew.crew import Crew

    return Crew(workers, limit_s)


def refuse_entangled(
    dump: Dump,
    *,
    kit: Path | None = None,
    declarations: Path | None = None,
    cache: Path | None = None,
    pixels: str = "off",
) -> None:
    """Refuses, before anything is read, paths that lie in each other where that could cost somebody a file.

    Raises AuditError. `cache` is the file of small pictures that will be used, None: nothing is kept.
    """
    from audit.disk.apart import refuse_in_report, refuse_own, refuse_temporary
    from audit.disk.dumps import tops

    for top in tops(dump):
        refuse_in_report(dump=top, kit=kit, declarations=declarations)
        if cache is not None:
            refuse_own(cache.parent, top, advice="name a folder of pictures, or use --no-cache")
        elif pixels != "off":
            refuse_temporary(Path(tempfile.gettempdir()), top)


def tell_left(left: Iterable[Left]) -> None:
    """One line for each folder of ours that holds what is not as this program wrote it, and stays."""
    for one in left:
        more = f" and {len(one.names) - 1} more" if len(one.names) > 1 else ""
        names = f"{shown_name(one.names[0])}{more}"
        speak.err(f"{shown_name(str(one.folder))}: not as cornerstop wrote it, so it stays: {names}")


@contextmanager
def progress(*steps: str, quiet: bool) -> Iterator[tuple[Callable[[int, int], None] | None, ...]]:
    """A bar with an estimate for each step, on a terminal's stderr; nothing of the kind in a pipe."""
    if quiet or sys.stderr is None or not sys.stderr.isatty():
        yield (None,) * len(steps)
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:

        def ticking(task: TaskID) -> Callable[[int, int], None]:
            return lambda done, total: bar.update(task, completed=done, total=total, visible=True)

        yield tuple(ticking(bar.add_task(words, total=None, visible=False)) for words in steps)
