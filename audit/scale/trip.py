"""One trip of a shelf: audited by a process of its own, here or on a worker of a cluster."""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress

from audit.crew.process import of_ours
from audit.errors import CANNOT, AuditError
from audit.message.shown import shown_line
from audit.scale.store import fetched

LONGEST_WORDS = 300
PATIENCE_S = 10.0
"""So long an audit that was told to stop is waited for."""
_running: set[subprocess.Popen[bytes]] = set()
_turn, _over = threading.Lock(), False


def audited(folders: Sequence[str], out: str, options: Sequence[str]) -> tuple[int, str]:
    """Runs `cornerstop audit` over the folders; its exit code and the last line of what it had to say.

    A trip may be audited twice, where a cluster does not know whether it was done: that is one run more in
    its folder of reports. Folders at an address are fetched first. No message decides anything: it is only
    shown.
    """
    try:
        with fetched(folders) as (places, _):
            kept = () if places == list(folders) else ("--no-cache",)  # a fetched file is new each time
            return _audited(places, out, [*options, *kept])
    except AuditError as error:
        return CANNOT, str(error)


def _audited(folders: Sequence[str], out: str, options: Sequence[str]) -> tuple[int, str]:
    command, environment = of_ours("audit", "audit", *folders, "--out", out, "--quiet", *options)
    quiet, pipe = subprocess.DEVNULL, subprocess.PIPE
    with _turn:
        if _over:
            return CANNOT, ""
        process = subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=pipe, env=environment)
        _running.add(process)
    try:
        said = process.communicate()[1].decode("utf-8", "replace").strip()
    finally:
        _running.discard(process)
    return process.returncode, shown_line(said.rpartition("\n")[2])[:LONGEST_WORDS]


@contextmanager
def stopped_in_the_end() -> Iterator[None]:
    """Whatever ends the block, no audit goes on after it; each leaves its report as it was, or whole."""
    global _over
    _over = False
    try:
        yield
    finally:
        with _turn:
            _over = True
            left = list(_running)
        for process in left:
            process.terminate()
        for process in left:
            with suppress(subprocess.TimeoutExpired):
                process.wait(PATIENCE_S)
