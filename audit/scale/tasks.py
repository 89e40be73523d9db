"""What a worker of a cluster is asked to do. A task may be done twice: it changes nothing."""

from __future__ import annotations

import atexit
from collections.abc import Sequence
from functools import cache
from typing import Any

from audit.crew import wire
from audit.crew.crew import Crew
from audit.crew.process import Failed


def do(job: str, tasks: Sequence[Any], limit_s: float) -> list[bytes | Failed]:
    """The packed answer to each task of a job, which may cost `limit_s` of the processor's work."""
    answers = _crew(limit_s).do(job, tasks)
    return [answer if isinstance(answer, Failed) else wire.packed(answer) for answer in answers]


@cache
def _crew(limit_s: float) -> Crew:
    """A process that works for this one as long as it lives: a bad file ends that one, and no worker."""
    crew = Crew(1, limit_s)
    atexit.register(crew.close)
    return crew
