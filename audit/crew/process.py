"""One worker as seen from here: begun, given tasks, and found ended."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Literal

from audit.crew.wire import read, receive, send
from audit.crew.worker import OUT_OF_MEMORY
from audit.disk.work import OVER_TIME

Why = Literal["time", "memory", "ended", "killed", "fault"]
"""What kept a task from being answered: too much work, too much memory, the end of the process (its own, or
somebody's doing), or an error that its job did not expect."""
PATIENCE_S = 2.0
"""So long a process that was killed is waited for: one that hangs in a call to a card does not end."""
_ENVIRONMENT = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "2"}
"""One worker uses one processor, and its threads take no address space that a picture could need."""
_WHY: dict[int, Why] = {
    -int(getattr(signal, "SIGXCPU", signal.SIGTERM)): "time",
    OVER_TIME: "time",
    OUT_OF_MEMORY: "memory",
    -int(getattr(signal, "SIGKILL", signal.SIGTERM)): "killed",
    -int(signal.SIGTERM): "killed",
}


@dataclass(frozen=True)
class Failed:
    """Why there is no answer to a task; `detail` is the name of an unexpected error."""

    why: Why
    detail: str = ""


class EndedError(Exception):
    """A worker has ended: before it began a task (`idle`), or at the task of place `at`, None: not known."""

    def __init__(self, why: Why, *, idle: bool, at: int | None = None, said: str = "") -> None:
        super().__init__(said)
        self.why, self.idle, self.at = why, idle, at


def of_ours(module: str, *words: str) -> tuple[list[str], dict[str, str]]:
    """The command that runs one of our modules, and the environment in which it finds what we have loaded."""
    # -P: a folder of pictures in which the program was started is no place to load modules from.
    paths = os.pathsep.join(map(os.path.abspath, sys.path))
    return [sys.executable, "-P", "-m", module, *words], os.environ | {"PYTHONPATH": paths}


class Worker:
    """A process that does one batch of tasks after the other."""

    def __init__(self, limit_s: float, jobs: Sequence[str]) -> None:
        """Raises OSError where no process can be begun."""
        command, environment = of_ours("audit.crew.worker", repr(limit_s), *jobs)
        pipe = subprocess.PIPE
        self._process = subprocess.Popen(
            command, stdin=pipe, stdout=pipe, stderr=pipe, bufsize=0, env=environment | _ENVIRONMENT
        )
        self._begun = False
        ends = (self._process.stdin, self._process.stdout, self._process.stderr)
        self._ends = [end for end in ends if end is not None]
        self._tasks, self._answers, self._progress = (end.fileno() for end in self._ends)

    def do(self, job: str, tasks: Sequence[Any]) -> list[Any]:
        """An answer to each task, or `Failed`. Raises EndedError where the process ended over them."""
        try:
            if not self._begun:
                self._begun = receive(self._answers) == "ready"
            send(self._tasks, [job, list(tasks)])
            answers = _answers(receive(self._answers), len(tasks))
            read(self._progress, len(tasks))
        except (EOFError, OSError, ValueError):
            raise self._ended(len(tasks)) from None
        return answers

    def kill(self) -> None:
        """Ends it, whatever it is doing."""
        with suppress(OSError):
            self._process.kill()

    def end(self) -> None:
        """Ends it, and lets go of it; for whoever is the only one to use it."""
        self.kill()
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(PATIENCE_S)
        for end in self._ends:
            end.close()

    def _ended(self, tasks: int) -> EndedError:
        with suppress(subprocess.TimeoutExpired):  # its pipes are closed a moment before it is gone
            self._process.wait(PATIENCE_S)
        code = self._process.returncode  # None: it answered nonsense, and goes on
        said = b"" if code is None else self._ends[2].read()
        self.end()
        why = _WHY.get(code or 0, "ended")
        if not (self._begun and said):
            return EndedError(why, idle=code is not None, said=said.decode(errors="replace"))
        return EndedError(why, idle=False, at=len(said) - 1 if len(said) <= tasks else None)


def _answers(sent: Any, count: int) -> list[Any]:
    """Answers as they were sent. Raises ValueError where there are not so many, or not of their shape."""
    if not isinstance(sent, list) or len(sent) != count:
        raise ValueError("not an answer to each task")
    found: list[Any] = []
    for one in sent:
        if not isinstance(one, list) or len(one) != 2 or not isinstance(one[0], bool):
            raise ValueError("no answer")
        found.append(one[1] if one[0] else Failed("fault", str(one[1])[:80]))
    return found
