"""An audit says on a terminal what it is doing, stage by stage, and in a pipe nothing of the kind."""

import os
import re
import subprocess
import sys

import pytest

from audit.cli.stages import STAGES, Run

AUDIT = [sys.executable, "-m", "audit", "audit", "dump", "--out", "report"]


class Bar:
    """In the place of rich's: keeps what it is told."""

    def __init__(self):
        self.told = []

    def add_task(self, words, total, count):
        self.total = total
        return 0

    def update(self, task, completed, description, **more):
        self.told.append((description, completed / self.total))


def test_the_whole_goes_on_and_never_back():
    bar = Bar()
    run = Run(bar, left_out=("looking",))
    for stage in STAGES:
        run.begin(stage)
        run.tick(1, 2)
        run.tick(2, 2)
    shares = [share for _, share in bar.told]
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] == 1
    looking = {share for words, share in bar.told if words == STAGES["looking"][0]}
    assert len(looking) == 1  # a stage that is left out takes no part of the whole


def test_a_stage_without_files_and_a_run_without_a_bar_are_no_trouble():
    run = Run(Bar())
    run.begin("reading")
    run.tick(0, 0)
    Run().begin("reading")
    Run().tick(1, 1)


def test_on_a_terminal_every_stage_is_named_in_its_order(dump, away):
    pty = pytest.importorskip("pty")
    (away / "dump").symlink_to(dump)
    ours, theirs = pty.openpty()
    with subprocess.Popen(AUDIT, stdout=subprocess.DEVNULL, stderr=theirs, env=dict(os.environ)) as running:
        os.close(theirs)
        said = b""
        while True:
            try:
                said += os.read(ours, 4096)
            except OSError:  # the other end was closed
                break
    os.close(ours)
    assert running.returncode in (0, 1)
    text = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", said.decode())
    places = [text.find(words) for words, _ in STAGES.values()]
    assert -1 not in places and places == sorted(places)
    assert re.search(r"\d+ of \d+", text)


def test_in_a_pipe_nothing_is_said_of_it(dump, away):
    (away / "dump").symlink_to(dump)
    done = subprocess.run(AUDIT, capture_output=True, text=True, check=False, env=dict(os.environ))
    assert done.returncode in (0, 1)
    assert not any(words in done.stderr for words, _ in STAGES.values())
