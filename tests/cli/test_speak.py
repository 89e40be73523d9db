"""Whatever stands in names, files and arguments, nothing of it acts on the terminal."""

import ast
import io
import json
import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import click
import pytest
from rich.text import Text

from audit.cli import speak
from audit.cli.entry import cli, run
from audit.cli.spoken import Command
from audit.errors import AuditError
from audit.jobs import audit as pipeline
from audit.message.shown import shown_line, shown_name, shown_text

CLI = Path(speak.__file__).parent
EVIL = "a\x1b[31mb\x07\x9b2Jc\x7f\u202e\u2066\u2028\u200b\U000e0041\ud800\udcff"
SHOWN = r"a\x1b[31mb\x07\x9b2Jc\x7f\u202e\u2066\u2028\u200b\U000e0041\ud800\xff"


def acting(text):
    """Characters that act on a terminal, apart from our own line ends and tabs."""
    return [c for c in text if c not in "\n\t" and (unicodedata.category(c)[0] == "C" or c in "\u2028\u2029")]


def nothing_acts(capsys):
    out, err = capsys.readouterr()
    assert not acting(out) and not acting(err), (out, err)
    return out, err


@pytest.mark.parametrize("show", [shown_line, shown_text, shown_name])
def test_each_character_that_acts_is_an_escape(show):
    assert show(EVIL) == SHOWN
    assert show("Fjällräv, 24 °, 木, é, 🏔") == "Fjällräv, 24 °, 木, é, 🏔"


def test_line_ends_of_a_text_stay_and_those_of_a_line_do_not():
    assert shown_text("one\ttwo\r\nthree\rfour\n") == "one\ttwo\nthree\\rfour\n"
    assert shown_line("one\ttwo\r\nthree") == r"one\ttwo\r\nthree"


def test_a_name_whose_bytes_are_no_utf8_is_shown_by_its_bytes():
    assert shown_name(os.fsdecode(b"TARN\xff\xc3.JPG")) == r"TARN\xff\xc3.JPG"


def test_results_and_messages(capsys):
    speak.out(f"{EVIL}\nsecond")
    speak.out("no end", nl=False)
    speak.err(f"{EVIL}\nsecond")
    speak.err("usage\nmore", lines=True)
    out, err = nothing_acts(capsys)
    assert out == f"{SHOWN}\nsecond\nno end"
    assert err == f"{SHOWN}\\nsecond\nusage\nmore\n"


def test_json_reads_back_as_the_same_value(capsys):
    value = {EVIL[:-1]: [EVIL[:-1], "\r\n\t\\", "Fjäll 🏔"], "n": 1.5}
    speak.as_json(value)
    out, _ = nothing_acts(capsys)
    assert json.loads(out) == value
    assert "Fjäll 🏔" in out
    speak.as_json(json.dumps(value, ensure_ascii=False) + "\n")
    assert json.loads(nothing_acts(capsys)[0]) == value


def test_a_path_in_json_is_told_as_a_report_tells_it(capsys):
    path = os.fsdecode(b"o\xff/kit.toml")
    speak.as_json({"kit": path})
    assert json.loads(capsys.readouterr().out) == {"kit": shown_name(path)}


def test_a_terminal_of_few_characters_gets_escapes(monkeypatch):
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", stream)
    speak.out("24 °")
    speak.as_json({"here": "24 °, 🏔"})
    text, record = stream.buffer.getvalue().decode("ascii").split("\n", 1)
    assert text == r"24 \xb0"
    assert json.loads(record) == {"here": "24 °, 🏔"}


def test_colour_is_ours_alone(capsys, monkeypatch):
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    line = Text("w\x1b[5m16 \n").append("cut\x9b", "bold red")
    speak.styled([line, Text("bold\x1b", "bold")], 80)
    out = capsys.readouterr().out
    assert out == "w\\x1b[5m16 \\n\x1b[1;31mcut\\x9b\x1b[0m\n\x1b[1mbold\\x1b\x1b[0m\n"
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.delenv("FORCE_COLOR")
    speak.styled([line], 80)
    assert nothing_acts(capsys)[0] == "w\\x1b[5m16 \\ncut\\x9b\n"


WORDS = "x\x1b[31m\x9b\u202e\n\udcff"
KEY = r'"k\u001b[31m\u009b\u202E\n" = 1'


@pytest.mark.parametrize(
    "arguments",
    [
        ["audit", f"no{WORDS}"],
        [WORDS],
        ["explain", WORDS],
        ["explain", f"--{WORDS}"],
        ["completion", WORDS],
        ["kit", WORDS],
        ["corners", "--focal", WORDS],
        ["corners", "--focal", "16", "--sensor", "36x24", "--thread", "77", "--ring", WORDS],
        ["corners", "--sensor", WORDS],
        ["audit", ".", "--lang", WORDS, "--out", "../report"],
    ],
)
def test_arguments(away, capsys, arguments):
    assert run(arguments) == 2
    out, err = nothing_acts(capsys)
    assert out == "" and r"\x1b[31m" in err


def test_keys_and_names_in_files_of_the_photographer(dump, away, capsys):
    (dump / "kit.toml").write_text(f'[[body]]\nname = "A"\nmodel = "N"\n{KEY}\n', encoding="utf-8")
    for more in ([], ["--json"]):
        assert run(["kit", "check", str(dump), *more]) == 1
        out, _ = nothing_acts(capsys)
        assert "x1b[31m" in out or r"\u001b[31m" in out
    (dump / "kit.toml").write_text('[[body]]\nname = "A"\nmodel = "N"\n', encoding="utf-8")
    (dump / "keep.txt").write_text(f"TARN{WORDS[:-1]}.JPG\n", encoding="utf-8")
    text = r'files = ["N\u001b[31m\u009b"]'
    (dump / "filters.toml").write_text(f"[[worn]]\n{text}\nbare = true\n", encoding="utf-8")
    assert run(["audit", str(dump), "--pixels", "off", "--out", f"r\x1b[31m{WORDS[-1]}"]) == 1
    out, err = nothing_acts(capsys)
    assert r"report: r\x1b[31m\xff/report.html" in out
    assert err.count(r"\x1b[31m") >= 2
    assert run(["audit", str(dump), "--pixels", "off", "--out", "plain", "--json"]) == 1
    json.loads(nothing_acts(capsys)[0])


def test_a_lens_in_the_answer_about_corners(away, capsys):
    kit = '[[lens]]\nid = "w"\nexif = ["N\\u001b[31m\\u009b"]\nfocal_mm = 16\nthread_mm = 77\n'
    (away / "kit.toml").write_text(kit, encoding="utf-8")
    for more in ([], ["--json"]):
        assert run(["corners", "--lens", "w", "--sensor", "36x24", *more]) in (0, 1)
        assert nothing_acts(capsys)[0]


@pytest.mark.parametrize("debugging", [False, True])
@pytest.mark.parametrize(("error", "code"), [(AuditError, 2), (RuntimeError, 3)])
def test_words_of_errors(dump, away, capsys, monkeypatch, error, code, debugging):
    def broken(*_, **__):
        raise error(f"no {WORDS}")

    monkeypatch.setattr(pipeline, "audit", broken)
    monkeypatch.setenv("CORNERSTOP_DEBUG", "1" * debugging)
    assert run(["audit", str(dump)]) == code
    _, err = nothing_acts(capsys)
    assert r"x\x1b[31m\x9b\u202e" in err
    assert ("Traceback" in err) is (debugging and error is RuntimeError)
    assert err.count("\n") == 1 or debugging


def shell(command, away):
    program = f"{sys.executable} -m audit"
    words = ["bash", "-c", f"set -o pipefail; {command.format(program)}"]
    return subprocess.run(words, capture_output=True, text=True, cwd=away, timeout=120)


FULL = "the output cannot be written (No space left on device); send it elsewhere\n"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no /dev/full")
@pytest.mark.parametrize("what", ["explain", "explain --json", "--help", "--version", "completion bash"])
def test_a_full_disk_is_one_line(away, what):
    done = shell(f"{{}} {what} > /dev/full", away)
    assert (done.returncode, done.stderr) == (2, FULL)
    assert shell(f"{{}} {what} 2> /dev/full > /dev/full", away).returncode == 2


@pytest.mark.parametrize(
    ("command", "code"),
    [
        ("{} explain | true", 0),
        ("{} --help | true", 0),
        ("{} explain --json >&-", 0),
        ("{} explain nothing 2>&-", 2),
        ("{} nothing 2>&1 | true", 2),
        ("_CORNERSTOP_COMPLETE=bash_source {} | true", 0),
    ],
)
def test_where_nobody_reads_the_work_goes_on(away, command, code):
    done = shell(command, away)
    assert (done.returncode, done.stderr) == (code, "")


def test_the_shell_is_answered(away, capsys, monkeypatch):
    monkeypatch.setenv("_CORNERSTOP_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_WORDS", "cornerstop expl")
    monkeypatch.setenv("COMP_CWORD", "1")
    assert run([]) == 0
    assert capsys.readouterr().out == "plain,explain\n"
    monkeypatch.setenv("_CORNERSTOP_COMPLETE", "tcsh_complete")
    assert run([]) == 1


CLICK = {"echo", "secho", "echo_via_pager", "prompt", "confirm", "pause", "progressbar", "show", "main"}
CLICK |= {"version_option", "help_option", "confirmation_option", "password_option"}
STREAMS = {"stdout", "stderr", "__stdout__", "__stderr__", "fdopen", "Console", "getLogger", "warn"}
SPEAKS = CLICK | STREAMS | {"print", "pprint", "print_exc", "print_exception", "os.write"}
BARS = {
    "options.py": {("progress", "stderr"), ("progress", "Console")},
    "stages.py": {("whole_run", "stderr"), ("whole_run", "Console")},
}


def spoken_in(file):
    """(function, name) of each name in a file by which something could reach the terminal."""
    for part in ast.parse(file.read_text(encoding="utf-8")).body:
        for node in ast.walk(part):
            match node:
                case ast.Attribute(value=ast.Name("os"), attr="write"):
                    names = ["os.write"]
                case ast.Attribute(attr=name) | ast.Call(func=ast.Name(name)):
                    names = [name]
                case ast.ImportFrom(names=aliases):
                    names = [alias.name for alias in aliases]
                case _:
                    names = []
            yield from ((getattr(part, "name", ""), name) for name in names if name in SPEAKS)


@pytest.mark.parametrize("file", sorted(CLI.glob("*.py")), ids=lambda file: file.name)
def test_nothing_but_one_module_speaks(file):
    """A bar, of words of our own, is the one thing besides."""
    if file.name == "speak.py":
        return
    assert set(spoken_in(file)) <= BARS.get(file.name, set())


def test_the_search_finds_who_speaks(tmp_path):
    assert {name for _, name in spoken_in(CLI / "speak.py")} >= {"stdout", "stderr", "Console"}
    file = tmp_path / "loud.py"
    file.write_text(
        "import os, sys, click\nfrom click import secho\nclick.echo(1)\nprint(2)\nos.write(1, b'')\n"
    )
    assert {name for _, name in spoken_in(file)} == {"secho", "echo", "print", "os.write"}


def test_every_command_speaks_its_help_through_it():
    def commands(command):
        yield command
        for child in getattr(command, "commands", {}).values():
            yield from commands(child)

    for command in commands(cli):
        assert isinstance(command, Command)
        option = command.get_help_option(click.Context(command))
        assert option is not None and option.callback.__module__ == Command.__module__
