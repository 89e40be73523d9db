"""What stands in a file's place is not waited for; limits count work; a card that is silent is left alone."""

from __future__ import annotations

import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from audit.declare import load
from audit.disk import card, card_thread, work
from audit.disk.card import CardFile, SilentCardError, open_on_card, read_part
from audit.disk.card_thread import CardThreads
from audit.disk.marker import OUTPUT_MARKER
from audit.disk.regular import NotRegularError, is_something_else, open_regular
from audit.disk.work import TookTooLongError, within

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pipes and such signals are those of POSIX")


def stand(path: Path, kind: str) -> Path:
    """Puts something else where a file is expected."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "socket":
        with socket.socket(socket.AF_UNIX) as one:
            here = Path.cwd()
            os.chdir(path.parent)  # a socket's name may have a hundred bytes
            try:
                one.bind(path.name)
            finally:
                os.chdir(here)
    return path


KINDS = ("pipe", "folder", "device", "socket")


@pytest.mark.parametrize("kind", KINDS)
def test_only_files_are_opened(tmp_path, kind):
    path = stand(tmp_path / "filters.toml", kind)
    before_s = time.monotonic()
    for opening in (open_regular, open_on_card, lambda p: read_part(p, 0, 10)):
        with pytest.raises(NotRegularError, match="is no regular file") as raised:
            opening(path)
        assert raised.value.strerror == "is no regular file"
    assert is_something_else(path)
    assert time.monotonic() - before_s < 2


def test_a_file_and_a_link_to_one_are_opened(tmp_path):
    (tmp_path / "a").write_bytes(b"words")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    for name in "ab":
        with open_regular(tmp_path / name) as file:
            assert file.read() == b"words"
            assert not os.get_inheritable(file.fileno())
        assert not is_something_else(tmp_path / name)
    with pytest.raises(FileNotFoundError):
        open_regular(tmp_path / "c")
    assert not is_something_else(tmp_path / "c")


@pytest.mark.parametrize("kind", KINDS)
def test_what_stands_in_the_place_of_a_declaration_is_named_and_passed_over(tmp_path, kind, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    dump = tmp_path / "dump"
    stand(dump / "filters.toml", kind)
    stand(dump / "day" / "filters.toml", kind)
    stand(dump / "kit.toml", kind)
    stand(tmp_path / "kit.toml", kind)
    (dump / "other").mkdir()
    (dump / "other" / "filters.toml").write_text('[[worn]]\nfiles = ["a"]\nbare = true\n', encoding="utf-8")
    loaded = load(dump)
    assert [d.folder for d in loaded.declarations] == ["other"]
    assert sorted(str(w) for w in loaded.warnings) == [
        f"{tmp_path / 'kit.toml'}:1: is no regular file; passed over",
        "day/filters.toml:1: is no regular file; passed over",
        "filters.toml:1: is no regular file; passed over",
        "kit.toml:1: is no regular file; passed over",
    ]
    assert {w.level for w in loaded.warnings} == {"warning"}


def test_a_kit_behind_one_that_was_passed_over_is_read(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    stand(tmp_path / "dump" / "kit.toml", "pipe")
    (tmp_path / "kit.toml").write_text('[[ring]]\nid = "r77"\nthread_mm = 77\n', encoding="utf-8")
    loaded = load(tmp_path / "dump", tmp_path / "kit.toml")
    assert [ring.id for ring in loaded.kit.rings] == ["r77"]
    assert [str(w) for w in loaded.warnings] == ["kit.toml:1: is no regular file; passed over"]


def test_declarations_in_our_own_reports_are_not_read(tmp_path):
    ours = tmp_path / "dump" / "report" / "run-0001"
    ours.mkdir(parents=True)
    (tmp_path / "dump" / "report" / OUTPUT_MARKER).write_text("", encoding="utf-8")
    for folder in (ours, ours.parent):
        (folder / "filters.toml").write_text("not toml", encoding="utf-8")
    assert load(tmp_path / "dump").declarations == []
    (tmp_path / "dump" / OUTPUT_MARKER).write_text("", encoding="utf-8")  # the dump itself is always read
    (tmp_path / "dump" / "filters.toml").write_text("inherit = false\n", encoding="utf-8")
    assert [d.folder for d in load(tmp_path / "dump").declarations] == ["."]


def spin() -> None:
    while True:
        pass


def test_work_is_stopped_and_waiting_is_not():
    began_s = time.process_time()
    with pytest.raises(TookTooLongError):
        within(0.1, spin)
    assert 0.05 < time.process_time() - began_s < 1  # the timer counts in ticks of up to 10 ms
    assert within(0.05, lambda: time.sleep(0.3) or "slept") == "slept"


def test_what_swallows_the_ring_hears_it_again():
    def deaf() -> None:
        try:
            spin()
        except TookTooLongError:
            spin()

    with pytest.raises(TookTooLongError):
        within(0.05, deaf)


def test_timers_and_handlers_that_were_set_are_put_back():
    rung: list[int] = []
    before = signal.signal(signal.SIGPROF, lambda number, _frame: rung.append(number))
    try:
        signal.setitimer(signal.ITIMER_PROF, 0.3, 0.05)
        with pytest.raises(TookTooLongError):
            within(0.1, spin)
        left_s, every_s = signal.getitimer(signal.ITIMER_PROF)
        assert 0 < left_s <= 0.25 and every_s == pytest.approx(0.05, abs=0.02)
        end_s = time.process_time() + 5
        while not rung and time.process_time() < end_s:
            pass
        assert rung
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def test_a_limit_within_a_limit():
    def outer() -> None:
        with pytest.raises(TookTooLongError):
            within(0.05, spin)
        spin()

    began_s = time.process_time()
    with pytest.raises(TookTooLongError):
        within(0.3, outer)
    assert time.process_time() - began_s < 2
    assert signal.getitimer(signal.ITIMER_PROF) == (0.0, 0.0)


def test_in_another_thread_there_is_no_limit():
    found: list[str] = []

    def busy() -> str:
        end_s = time.thread_time() + 0.1
        while time.thread_time() < end_s:
            pass
        return "done"

    thread = threading.Thread(target=lambda: found.append(within(0.01, busy)))
    thread.start()
    thread.join()
    assert found == ["done"]
    assert work.within(1, lambda: 3) == 3


@pytest.fixture
def threads(monkeypatch) -> CardThreads:
    """Threads of this test alone, with little patience."""
    own = CardThreads()
    monkeypatch.setattr(card, "THREADS", own)
    monkeypatch.setattr(card_thread, "SILENT_S", 0.4)
    monkeypatch.setattr(card_thread, "SILENT_AGAIN_S", 0.04)
    return own


@pytest.fixture
def silent(monkeypatch, threads) -> Iterator[Callable[[str], None]]:
    """Makes the card silent for files of a name, until the test is over."""
    names: set[str] = set()
    over = threading.Event()
    real = card._open

    def opening(path: Path, start: int, ahead: int) -> object:
        if path.name in names:
            over.wait()
        return real(path, start, ahead)

    monkeypatch.setattr(card, "_open", opening)
    yield names.add
    over.set()
    assert all(thread.ends_within(5) for thread in threads._stuck)


def test_a_file_is_read_as_it_is(tmp_path, threads):
    content = os.urandom(3 * card.CHUNK + 17)
    (tmp_path / "a").write_bytes(content)
    with open_on_card(tmp_path / "a") as file:
        assert file.read(5) == content[:5]
        assert file.read() == content[5:]
        assert file.read(1) == b""
        file.seek(-7, os.SEEK_END)
        assert file.read(100) == content[-7:]
        file.seek(card.CHUNK - 3)
        assert file.read(9) == content[card.CHUNK - 3 : card.CHUNK + 6]
        with pytest.raises(OSError):
            file.fileno()
        with pytest.raises(ValueError):
            file.seek(-1)
    with CardFile(tmp_path / "a", 100, 10) as raw:
        assert raw.status.st_size == len(content)
        raw.seek(104)
        assert raw.read(3) == content[104:107]
        raw.seek(0)
        assert raw.readall() == content
    for start, length in ((0, len(content)), (9, 20), (card.CHUNK, 2 * card.CHUNK), (len(content) - 3, 50)):
        assert read_part(tmp_path / "a", start, length) == content[start : start + length]
    assert read_part(tmp_path / "a", len(content) + 5, 5) == b""
    assert len(threads._free) == 1  # one thread did it all


def open_files() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


@pytest.mark.skipif(sys.platform != "linux", reason="counts open files by /proc")
def test_a_file_whose_head_is_enough_is_closed_at_once_and_opened_again_where_it_is_not(tmp_path, threads):
    content = os.urandom(card.CHUNK + 17)
    (tmp_path / "a").write_bytes(content)
    before = open_files()
    with CardFile(tmp_path / "a", 0, 100, head_only=True) as file:
        assert (file.head, file.status.st_size) == (content[:100], len(content))
        assert file.read(30) == content[:30]
        assert open_files() == before
        assert file.readall() == content[30:]
        assert open_files() == before + 1
    assert len(threads._free) == 1
    CardFile(tmp_path / "a").close()
    with CardFile(tmp_path / "a", 0, 100, head_only=True):
        assert open_files() == before


@pytest.fixture
def ahead(monkeypatch) -> card.Ahead:
    monkeypatch.setattr(card, "AHEAD", own := card.Ahead())
    return own


def head(path: Path) -> bytes:
    with CardFile(path, 0, 4, head_only=True) as file:
        return file.head


def test_files_that_come_next_are_read_in_one_go_and_each_once(tmp_path, threads, ahead, monkeypatch):
    paths = [tmp_path / f"{n:02}" for n in range(2 * card.AT_ONCE + 3)]
    for path in paths[:-1]:
        path.write_text(f"{path.name}--")
    asked = []
    ask = CardThreads.ask
    monkeypatch.setattr(CardThreads, "ask", lambda *words: asked.append(words) or ask(*words))
    monkeypatch.setattr(card, "AT_ONCE_S", 60)
    ahead.expect(paths, 4)
    assert [head(path) for path in paths[:-1]] == [f"{path.name}--".encode() for path in paths[:-1]]
    with pytest.raises(FileNotFoundError):  # the last is not there, and its neighbours were read
        head(paths[-1])
    assert len(asked) == 3
    paths[0].write_text("new")
    assert head(paths[0]) == b"new"
    paths[-1].write_text("came")
    assert head(paths[-1]) == b"came"
    with CardFile(paths[1], 0, 2, head_only=True) as file:
        assert (file.head, file.readall()) == (b"01", b"01--")


def test_files_that_come_next_and_are_left_out(tmp_path, threads, ahead):
    paths = [tmp_path / f"{n:02}" for n in range(card.AT_ONCE + 5)]
    for path in paths:
        path.write_text(f"{path.name}--")
    ahead.expect(paths, 4)
    for n in (3, card.AT_ONCE + 4, 1, 3):
        assert head(paths[n]) == f"{n:02}--".encode()


def test_a_silent_one_among_those_that_come_next_is_named_alone(tmp_path, threads, ahead, silent):
    paths = [tmp_path / name for name in "abcde"]
    for path in paths:
        path.write_text(path.name * 4)
    silent("c")
    ahead.expect(paths, 4)
    began_s, told = time.monotonic(), []
    for path in paths:
        try:
            told.append(head(path).decode())
        except SilentCardError:
            told.append("silent")
    assert told == ["aaaa", "bbbb", "silent", "dddd", "eeee"]
    assert 0.39 < time.monotonic() - began_s < 0.8  # waited for once


def test_a_slow_card_gives_its_files_one_by_one(tmp_path, threads, ahead, monkeypatch):
    paths = [tmp_path / name for name in "abc"]
    for path in paths:
        path.write_text(path.name * 4)
    real, parts = card._part, []
    monkeypatch.setattr(card, "_part", lambda *where: time.sleep(0.06) or parts.append(1) or real(*where))
    ahead.expect(paths, 4)
    assert [(head(path), len(parts)) for path in paths] == [(b"aaaa", 1), (b"bbbb", 2), (b"cccc", 3)]


def test_another_file_in_its_place_is_not_taken_for_it(tmp_path, threads):
    (tmp_path / "a").write_bytes(b"x" * 1000)
    (tmp_path / "b").write_bytes(b"y" * 1000)
    with CardFile(tmp_path / "a", 0, 100, head_only=True) as file:
        (tmp_path / "b").replace(tmp_path / "a")
        assert file.read(100) == b"x" * 100
        for _ in range(2):
            with pytest.raises(FileNotFoundError):
                file.read(1)


@pytest.mark.skipif(sys.platform != "linux", reason="counts open files by /proc")
def test_no_file_stays_open(tmp_path, threads, silent):
    (tmp_path / "a").write_bytes(b"x" * 1000)
    before = open_files()
    for _ in range(50):
        with open_on_card(tmp_path / "a") as file:
            file.read(10)
        with pytest.raises(FileNotFoundError):
            open_on_card(tmp_path / "gone")
    read_part(tmp_path / "a", 0, 1)  # the last was closed before this one was opened
    assert open_files() <= before + 1


def test_a_silent_card_is_waited_for_once_and_then_less(tmp_path, threads, silent):
    for name in ("a", "b", "c", "d", "e", "f", "well"):
        (tmp_path / name).write_bytes(b"x")
        if name != "well":
            silent(name)
    waited_s = []
    for name in "abcdef":
        began_s = time.monotonic()
        with pytest.raises(SilentCardError, match=r"the card did not answer for 0\.0?4 s"):
            CardFile(tmp_path / name)
        waited_s.append(time.monotonic() - began_s)
    assert all(s >= 0.39 for s in waited_s[:3]) and all(s < 0.35 for s in waited_s[3:]), waited_s
    with CardFile(tmp_path / "well") as file:  # it answers again, and is trusted again
        assert file.read(1) == b"x"
    began_s = time.monotonic()
    with pytest.raises(SilentCardError, match=r"the card did not answer for 0\.4 s"):
        CardFile(tmp_path / "a")
    assert time.monotonic() - began_s >= 0.39


def test_threads_that_do_not_come_back_are_few(tmp_path, threads, silent, monkeypatch):
    monkeypatch.setattr(card_thread, "MOST_STUCK", 4)
    (tmp_path / "a").write_bytes(b"x")
    silent("a")
    before = threading.active_count()
    for _ in range(20):
        with pytest.raises(SilentCardError):
            CardFile(tmp_path / "a")
    assert threading.active_count() <= before + 4


def test_silence_in_the_midst_of_a_file_is_told_at_once_for_all_that_follows(tmp_path, threads, monkeypatch):
    (tmp_path / "a").write_bytes(b"x" * 3 * card.CHUNK)
    over = threading.Event()
    real = card._part
    file = open_on_card(tmp_path / "a")
    monkeypatch.setattr(card, "_part", lambda *where: over.wait() and real(*where))
    try:
        file.seek(2 * card.CHUNK)
        with pytest.raises(SilentCardError):
            file.read(10)
        began_s = time.monotonic()
        for _ in range(20):
            with pytest.raises(SilentCardError):
                file.read(10)
        assert time.monotonic() - began_s < 0.2
    finally:
        over.set()
        file.close()
    assert threads._stuck[0].ends_within(5)


def test_an_answer_that_nobody_waited_for_is_not_taken_for_the_next(threads, monkeypatch):
    thread = threads.take()
    monkeypatch.setattr(card_thread, "SILENT_S", 20.0)
    with pytest.raises(TookTooLongError):
        within(0.1, lambda: threads.ask(thread, lambda: _worked(2.0)))
    assert thread.owes
    assert threads.ask(thread, lambda: "mine") == "mine"
    threads.give_back(thread)
    assert threads._free == [thread]


def _worked(seconds: float) -> str:
    end_s = time.thread_time() + seconds
    while time.thread_time() < end_s:
        pass
    return "late"


def test_a_reader_that_was_stopped_in_a_fork_is_made_anew(tmp_path, threads):
    (tmp_path / "a").write_bytes(b"x")
    assert read_part(tmp_path / "a", 0, 1) == b"x"
    child = os.fork()
    if child == 0:
        os._exit(0 if read_part(tmp_path / "a", 0, 1) == b"x" else 1)
    assert os.waitpid(child, 0)[1] == 0


def test_suspended_time_is_not_waited(tmp_path, threads, monkeypatch):
    """A slice in which nothing ran counts as one slice, however long it was."""
    thread = threads.take()
    over = threading.Event()
    timer = threading.Timer(0.9, over.set)
    real = card_thread.SimpleQueue.get
    slept: list[float] = []

    class Suspended:
        """Its first wait is as long as the lid was closed."""

        def put(self, item: object) -> None:
            done.put(item)

        def get(self, timeout: float) -> object:
            if not slept:
                slept.append(timeout)
                time.sleep(0.8)
                raise card_thread.Empty
            return real(done, timeout=timeout)

    done = thread._done
    thread._done = Suspended()
    timer.start()
    assert threads.ask(thread, lambda: over.wait() and "there") == "there"
    assert slept
    monkeypatch.undo()
