"""Told to stop at any moment, the command ends with one line and 130, and leaves nothing half-written."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from audit.cli.entry import run
from audit.disk import interrupt
from audit.report import whole
from audit.start import LINE, main

SWEEP = Path(__file__).with_name("sweep.py")
TOLD = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="the system has neither fork nor signals")


@pytest.fixture
def hearing(monkeypatch):
    """Handlers and hooks of this process are put back when the test is over."""
    before = {number: signal.getsignal(number) for number in TOLD}
    for hook in ("unraisablehook", "excepthook"):
        monkeypatch.setattr(sys, hook, getattr(sys, hook))
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)
    monkeypatch.setattr(interrupt, "_stage", interrupt._Stage())
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background jobs are deaf to it
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.mark.parametrize("told", TOLD)
def test_a_report_half_written_is_taken_away(dump, away, monkeypatch, capsys, hearing, told):
    monkeypatch.setattr(whole, "csv_parts", lambda *_, **__: os.kill(os.getpid(), told))
    monkeypatch.setattr(sys, "argv", ["cornerstop", "audit", str(dump)])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 130
    assert capsys.readouterr().err == f"{LINE}\n"
    assert list(away.iterdir()) == []
    assert signal.getsignal(told) is signal.SIG_IGN  # the code is known: nothing is heard any more


def sweep(*words, **more):
    command = [sys.executable, "-W", "ignore", str(SWEEP), *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, **more)


@pytest.mark.parametrize(
    ("told", "step", "arguments"),
    [
        ("SIGINT", 41, ["explain", "corners"]),
        ("SIGTERM", 67, ["kit", "check", "{dump}"]),
        ("SIGHUP", 151, ["audit", "{dump}", "--pixels", "off", "-q"]),
    ],
)
def test_at_any_moment_before_something_is_written(dump, away, told, step, arguments):
    (dump / "kit.toml").write_text('[[body]]\nname = "A"\nmodel = "Brattholm Tarn"\n', encoding="utf-8")
    results = away.parent / "ends.json"
    arguments = [word.format(dump=dump) for word in arguments]
    done = sweep("copies", int(getattr(signal, told)), step, results, *arguments, cwd=away)
    assert done.returncode in (0, 1), done.stderr
    ends = json.loads(results.read_text(encoding="utf-8"))
    assert len(ends) > 20
    assert {(code, said) for _, code, said in ends} == {(130, f"{LINE}\n")}


def test_at_the_very_first_moments(away):
    """Each event from the first line of `main` on, when hardly anything is loaded."""
    results = away.parent / "ends.json"
    assert sweep("copies", int(signal.SIGINT), 1, results, "--version").returncode == 0
    ends = json.loads(results.read_text(encoding="utf-8"))[:150]
    assert {(code, said) for _, code, said in ends} == {(130, f"{LINE}\n")}


@pytest.mark.parametrize("moment", [1, 4, 8, 30, 60])
def test_while_something_is_written(dump, away, moment):
    """Either nothing is there, or a whole report; past the last moment the command just ends."""
    done = sweep("writing", int(signal.SIGINT), moment, "audit", dump, "--pixels", "off", "-q", cwd=away)
    if done.returncode == 130:
        assert done.stderr == f"{LINE}\n"
    else:
        assert (done.returncode, done.stderr) == (0, "")
    left = [path.name for path in away.iterdir()]
    assert left == [] or (left == ["cornerstop-report"] and (away / left[0] / "report.html").is_file())


@pytest.mark.parametrize(("moment", "workers"), [(1, 0), (2, 0), (1, 2)])
def test_while_a_picture_is_read(dump, away, moment, workers):
    """Pictures are read in a thread of their own, or by workers."""
    words = ["audit", dump, "--pixels", "off", "-q", "--workers", workers]
    done = sweep("reading", int(signal.SIGINT), moment, *words, cwd=away)
    assert (done.returncode, done.stderr) == (130, f"{LINE}\n")
    assert list(away.iterdir()) == []


DEAF_NO_MORE = "import os, signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
LISTENING = """
import audit.start
from audit.disk import interrupt
def watch(leave, listen=interrupt.watch):
    listen(leave)
    os.write(1, b".")
interrupt.watch = watch
audit.start.main()
"""


@pytest.mark.parametrize("told", TOLD)
def test_at_moments_of_the_clock(away, told):
    """From the moment on when signals are heard, which the process reports."""
    for delay_s in (0.0, 0.01, 0.05, 0.25):
        process = subprocess.Popen(
            [sys.executable, "-c", DEAF_NO_MORE + LISTENING, "explain", "corners"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert process.stdout.read(1) == "."
        time.sleep(delay_s)
        process.send_signal(told)
        said = process.communicate(timeout=60)[1]
        assert (process.returncode, said) in ((130, f"{LINE}\n"), (0, ""))


def script(text, away, *arguments):
    """A process that listens, does something, and runs a command."""
    command = [sys.executable, "-c", DEAF_NO_MORE + text, *arguments]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, cwd=away)


COMMAND = """
import audit.check, audit.start
def load_checks():
{body}
audit.check.load_checks = load_checks
audit.start.main()
"""
KILL = "os.kill(os.getpid(), signal.SIGTERM)"
BODIES = {
    "swallowed": f"""
    try:
        {KILL}
    except BaseException:
        pass
    return []""",
    "turned into another error": f"""
    try:
        {KILL}
    except KeyboardInterrupt:
        raise ImportError("half loaded")""",
    "lost in a destructor": f"""
    import time
    class Thing:
        def __del__(self):
            {KILL}
    Thing()
    time.sleep(20)
    return []""",
    "twice": f"""
    try:
        {KILL}
    finally:
        {KILL}
        {KILL}""",
    "in the making of a class": f"""
    class Part:
        def __set_name__(self, owner, name):
            {KILL}
    class Whole:
        part = Part()""",
}


@pytest.mark.parametrize("case", BODIES)
def test_an_interrupt_that_a_library_spoils_is_one_all_the_same(away, case):
    began = time.monotonic()
    done = script(COMMAND.format(body=BODIES[case]), away, "explain")
    assert (done.returncode, done.stdout, done.stderr) == (130, "", f"{LINE}\n")
    assert time.monotonic() - began < 15


def test_a_result_is_not_put_in_place_after_an_interrupt(hearing):
    interrupt.watch(lambda: None)
    interrupt.begin()
    interrupt.interrupted()
    with pytest.raises(KeyboardInterrupt):
        os.kill(os.getpid(), signal.SIGTERM)
    os.kill(os.getpid(), signal.SIGTERM)  # cleaning up is not disturbed
    with pytest.raises(KeyboardInterrupt):
        interrupt.interrupted()
    assert run(["--version"]) == 130
    interrupt.settle()
    interrupt.interrupted()
    assert not interrupt.asked()


def test_what_hangs_in_its_cleaning_up_is_interrupted_after_a_while(hearing, monkeypatch):
    monkeypatch.setattr(interrupt, "PATIENCE_S", 0.05)
    interrupt.watch(lambda: None)
    interrupt.begin()
    with pytest.raises(KeyboardInterrupt):
        os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(0.06)
    with pytest.raises(KeyboardInterrupt):
        os.kill(os.getpid(), signal.SIGTERM)


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="the system knows no hanging up")
def test_what_was_to_be_ignored_stays_ignored(away):
    """As for a command begun with nohup."""
    body = "    os.kill(os.getpid(), signal.SIGHUP)\n    raise ValueError('went on')"
    text = "signal.signal(signal.SIGHUP, signal.SIG_IGN)" + COMMAND.format(body=body)
    done = script(text, away, "explain")
    assert done.returncode == 3
    assert "went on" in done.stderr


def test_errors_of_others_are_shown_as_ever(away):
    """The hooks keep silent only about what comes of an interrupt."""
    body = """
    class Thing:
        def __del__(self):
            raise ValueError("a wheel came off")
    Thing()
    return []"""
    assert "a wheel came off" in script(COMMAND.format(body=body), away, "explain", "--json").stderr
