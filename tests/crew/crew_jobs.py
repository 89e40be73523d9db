"""A job of a worker that does what it is told, good or bad."""

from __future__ import annotations

import os
import re
import signal
import sys
import time
from contextlib import suppress
from typing import Any


def work(task: Any, limit_s: float) -> Any:
    match task:
        case ["spin"]:  # in C, which hears of no signal
            return re.match(r"(a+)+$", "a" * 60 + "b")
        case ["eat"]:
            return len(bytearray(1 << 33))
        case ["kill"]:
            os.kill(os.getpid(), signal.SIGKILL)
        case ["once", path]:  # killed by somebody, who does not come again
            if not os.path.exists(path):  # noqa: PTH110
                open(path, "w").close()  # noqa: PTH123
                os.kill(os.getpid(), signal.SIGKILL)
        case ["fall"]:
            os._exit(3)
        case ["print"]:
            os.write(1, b"\xff" * 100_000)
            os.write(2, b"rubbish")
            sys.stdout.write("words")
            sys.stdout.flush()
        case ["lie"]:  # to every descriptor that may be that of the answers
            for number in range(3, 12):
                with suppress(OSError):
                    os.write(number, b"\x00\x00\x00\x02\xc1\xc1")
        case ["raise"]:
            raise KeyError("unexpected")
        case ["sleep", seconds]:
            time.sleep(seconds)
        case ["limit"]:
            return limit_s
        case ["who"]:
            return os.getpid()
    return task
