"""Runs a command and tells it to stop at chosen moments.

A moment is an event that Python itself reports: a module looked for, a file opened, a folder made. So each is
met exactly, however slow the machine.

    python sweep.py copies SIGNAL STEP RESULTS ARGUMENTS...

At every STEP-th moment before anything is written the process is forked; the copy gets the signal, the
original goes on, and writes down in the end how its copies ended. Only the main thread is forked: a copy has
no other thread than the one that forked it.

    python sweep.py writing SIGNAL NUMBER ARGUMENTS...
    python sweep.py reading SIGNAL NUMBER ARGUMENTS...

The process itself gets the signal at the given moment: counted from the first that changes the disk, or of
the pictures that are opened and the workers that are begun to do so.
"""

import json
import os
import signal
import sys
import tempfile
import threading

READS = {"import", "exec", "open"}
WRITES = {"os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.symlink"}


class Copies:
    """Copies of the process, one for each moment, and how they ended."""

    def __init__(self, number, step, results):
        self.number, self.step, self.results = number, int(step), results
        self.ends, self.count, self.active, self.original = [], 0, True, os.getpid()

    def meet(self, event, values):
        """One event."""
        if not self.active or event not in READS | WRITES:
            return
        if threading.current_thread() is not threading.main_thread():
            return
        self.active = event in READS
        self.count += self.active
        if self.active and self.count % self.step == 0:
            self.active = False
            with tempfile.TemporaryFile() as said:
                self.fork(event, said)

    def fork(self, event, said):
        """The copy never comes back to life: it is told to stop here, and counts no further."""
        copy = os.fork()
        if not copy:
            signal.alarm(60)
            os.dup2(said.fileno(), 2)
            os.kill(os.getpid(), self.number)
            return
        code = os.waitstatus_to_exitcode(os.waitpid(copy, 0)[1])
        said.seek(0)
        self.ends.append((event, code, said.read().decode()))
        self.active = True

    def over(self):
        """Of the original: tells how all ended."""
        self.active = False
        if os.getpid() == self.original:
            with open(self.results, "w") as file:  # noqa: PTH123 (importing pathlib is one of the moments)
                json.dump(self.ends, file)


class Writing:
    """The process itself, at one moment of its writing."""

    def __init__(self, number, at):
        self.number, self.left, self.active = number, int(at), False

    def meet(self, event, values):
        """One event."""
        self.active |= event in WRITES
        if self.active and event in WRITES | {"open"}:
            self.left -= 1
            if self.left == 0:
                os.kill(os.getpid(), self.number)

    def over(self):
        """Nothing to tell."""


class Reading(Writing):
    """The process itself, when it opens one of the pictures, or begins a worker that will."""

    def meet(self, event, values):
        """One event."""
        if event == "subprocess.Popen" or (event == "open" and str(values[0]).endswith(".JPG")):
            self.left -= 1
            if self.left == 0:
                os.kill(os.getpid(), self.number)


KINDS = {"copies": Copies, "writing": Writing, "reading": Reading}


def main(kind, number, *words):
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background jobs are born deaf to it
    number, own = int(number), 2 if kind == "copies" else 1
    moments = KINDS[kind](number, *words[:own])
    sys.argv = ["cornerstop", *words[own:]]

    import audit.start

    def hook(event, values):
        if signal.getsignal(number) is not signal.SIG_DFL:  # else the system ends us without a word
            moments.meet(event, values)

    sys.addaudithook(hook)
    try:
        audit.start.main()
    finally:
        moments.over()


if __name__ == "__main__":
    main(*sys.argv[1:])
