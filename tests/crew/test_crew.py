"""What a task does to its worker it does to no other task, and to nobody who waits."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path

import msgpack
import pytest

from audit.crew import process
from audit.crew.crew import Crew, crew_at_work
from audit.crew.process import Failed
from audit.crew.wire import packed, unpacked
from audit.errors import AuditError
from audit.message.text import day, figure, joined, made_of, plural, say

JOB = "crew_jobs"
posix = pytest.mark.skipif(os.name != "posix", reason="signals and bounds of POSIX")


@pytest.fixture(params=[1, 2, 4])
def crew(request: pytest.FixtureRequest) -> Iterator[Crew]:
    with Crew(request.param, limit_s=0.5) as one:
        yield one


@pytest.fixture
def single() -> Iterator[Crew]:
    with Crew(1, limit_s=0.5) as one:
        yield one


def pids(crew: Crew) -> list[int]:
    return [worker._process.pid for worker in list(crew._running)]


def gone(pid: int, within_s: float = 5.0) -> bool:
    until = time.monotonic() + within_s
    while time.monotonic() < until:
        try:
            os.kill(pid, 0)
            if Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z":
                return True
        except (ProcessLookupError, FileNotFoundError):
            return True
        time.sleep(0.02)
    return False


def test_answers_come_in_order(crew: Crew) -> None:
    tasks = [["sleep", 0.001 * (number % 7)] if number % 5 else number for number in range(200)]
    assert list(crew.each(JOB, tasks, batch=3)) == tasks


def test_each_knows_its_limit(single: Crew) -> None:
    assert single.do(JOB, [["limit"]]) == [0.5]


def test_without_workers_it_is_done_here() -> None:
    assert list(crew_at_work().each(JOB, [["who"]])) == [os.getpid()]
    with Crew(1) as crew:
        assert crew_at_work() is crew
        assert crew.do(JOB, [["who"]]) != [os.getpid()]


@posix
@pytest.mark.parametrize(
    ("bad", "why"),
    [("spin", "time"), ("eat", "memory"), ("kill", "killed"), ("fall", "ended"), ("raise", "fault")],
)
def test_a_task_that_ends_its_worker_costs_its_mates_nothing(single: Crew, bad: str, why: str) -> None:
    found = single.do(JOB, [1, 2, [bad], 3, 4])
    assert (found[:2], found[3:]) == ([1, 2], [3, 4])
    assert isinstance(found[2], Failed) and found[2].why == why


@posix
def test_every_second_task_is_a_bad_one(crew: Crew) -> None:
    tasks = [number if number % 2 else ["fall"] for number in range(24)]
    found = list(crew.each(JOB, tasks, batch=8))
    assert found == [number if number % 2 else Failed("ended") for number in range(24)]


@posix
def test_over_its_time_a_task_is_not_tried_again(single: Crew) -> None:
    began_s, before = time.monotonic(), os.times()
    assert single.do(JOB, [["spin"]]) == [Failed("time")]
    single.do(JOB, [["who"]])
    assert time.monotonic() - began_s < 60
    assert os.times().children_user - before.children_user < 20


@posix
def test_killed_once_by_somebody_a_task_is_answered(single: Crew, tmp_path: Path) -> None:
    task = ["once", str(tmp_path / "killed")]
    assert single.do(JOB, [1, task, 2]) == [1, task, 2]


@pytest.mark.parametrize("bad", ["print", "lie"])
def test_what_is_printed_is_no_answer(single: Crew, bad: str) -> None:
    found = single.do(JOB, [1, [bad], 2])
    assert [found[0], found[2]] == [1, 2]
    assert found[1] == (["print"] if bad == "print" else Failed("ended"))


@posix
def test_idle_workers_that_are_killed_are_replaced(crew: Crew) -> None:
    for number in range(4):
        assert list(crew.each(JOB, range(9), batch=2)) == list(range(9))
        for pid in pids(crew):
            os.kill(pid, signal.SIGKILL if number % 2 else signal.SIGTERM)


@posix
def test_killed_at_random_moments_nothing_is_lost() -> None:
    dice, over = random.Random(3), threading.Event()
    kills = 100 if os.environ.get("CORNERSTOP_FUZZ") else 20
    with Crew(2) as crew:

        def kill() -> None:
            for _ in range(kills):
                time.sleep(dice.random() * 0.2)
                for pid in dice.sample(pids(crew), min(1, len(pids(crew)))):
                    os.kill(pid, signal.SIGKILL)
            over.set()

        killer = threading.Thread(target=kill)
        killer.start()
        while not over.is_set():
            tasks = [["sleep", 0.002] if number % 3 else number for number in range(64)]
            assert list(crew.each(JOB, tasks, batch=16)) == tasks
        killer.join()


def test_a_crew_that_is_left_leaves_nobody(crew: Crew) -> None:
    waiting = [crew.later(lambda: crew.do(JOB, [["sleep", 60]])) for _ in range(2)]
    while not pids(crew):
        time.sleep(0.01)
    found = pids(crew)
    crew.close()
    assert all(gone(pid) for pid in found)
    for one in waiting:
        assert one.exception(10) is not None


PARENT = """
import sys, time
from audit.crew.crew import Crew
crew = Crew(2, 0.5)
threads = [crew.later(lambda: crew.do("crew_jobs", [[{what!r}]])) for _ in range(2)]
while len(crew._running) < 2 or not all(worker._begun for worker in crew._running):
    time.sleep(0.02)
print(*[worker._process.pid for worker in crew._running], flush=True)
time.sleep(600)
"""


@posix
@pytest.mark.parametrize("what", ["who", "spin"])
def test_workers_end_when_their_parent_is_killed(what: str) -> None:
    paths = os.pathsep.join(map(os.path.abspath, sys.path))
    text = PARENT.format(what=what)
    parent = subprocess.Popen(
        [sys.executable, "-c", text], stdout=subprocess.PIPE, env=os.environ | {"PYTHONPATH": paths}
    )
    assert parent.stdout is not None
    found = [int(word) for word in parent.stdout.readline().split()]
    parent.kill()
    parent.wait()
    assert len(found) == 2
    assert all(gone(pid, 60) for pid in found)
    parent.stdout.close()


def test_a_worker_loads_nothing_from_the_folder_it_is_begun_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "msgpack.py").write_text("raise SystemExit('run by a dump')", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    with Crew(1) as crew:
        assert crew.do(JOB, [1]) == [1]


def test_no_worker_can_be_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(process.sys, "executable", "/nowhere/python")
    with Crew(1) as crew, pytest.raises(AuditError, match="--workers 0"):
        crew.do(JOB, [1])
    with Crew(1) as crew, pytest.raises(AuditError, match="--workers 0"):
        list(crew.each(JOB, [1]))


def test_a_job_that_cannot_be_loaded_says_so(single: Crew) -> None:
    single._jobs.append("no_such_job")
    with pytest.raises(AuditError, match="no_such_job"):
        single.do("no_such_job", [1])


def test_plain_data_goes_and_comes_back() -> None:
    at = datetime(2026, 5, 2, 10, 0, 0, 250_000)
    for value in (
        None,
        True,
        7,
        -(2**63),
        0.1,
        float("inf"),
        "\udce9 é",
        b"\xff",
        [at, {"a": [1]}],
        date(9999, 12, 31),
    ):
        assert unpacked(packed(value)) == value
    sentence = say(
        "{a} of {b}, {when}: {c}", a=plural(2, "{n} frame", "{n} frames"), b=figure("1.5"), c=7, when=day(at)
    )
    for words in (sentence, joined(["one", sentence]), figure("2.5")):
        back = unpacked(packed(words))
        assert (back, made_of(back)) == (words, made_of(words))
        assert type(back) is type(words)


@pytest.mark.parametrize("value", [(1, 2), {1, 2}, Fraction(1, 3), object(), 2**70, Path("a")])
def test_nothing_else_goes(value: object) -> None:
    with pytest.raises((TypeError, OverflowError)):
        packed(value)


def test_bytes_that_are_no_message() -> None:
    dice = random.Random(5)
    whole = packed([say("{a}", a=joined(["x", "y"])), datetime(2026, 1, 1), {"k": b"x" * 20}])
    strange = [msgpack.packb(msgpack.ExtType(code, b"\x93\x01\x02\x03")) for code in range(12)]
    for data in [*strange, b"", b"\xc1", b"\x91" * 5000, *(_mutated(whole, dice) for _ in range(500))]:
        with suppress(ValueError):
            unpacked(data)


def _mutated(data: bytes, dice: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(dice.randint(1, 4)):
        changed[dice.randrange(len(changed))] = dice.randrange(256)
    return bytes(changed[: dice.randint(0, len(changed))])
