"""Every command on a real terminal, over names and EXIF that try to act on it: they only show."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest

from audit.demo.exif_block import (
    ASCII,
    EXIF_POINTER,
    Directory,
    raw_bytes,
    short,
    text,
    tiff_block,
    with_exif,
)
from audit.xmp.packet import read

ROOT = Path(__file__).parents[2]
pty = pytest.importorskip("pty", reason="the system has no pseudo-terminals")

EVIL = "\x1b[5m\x1b]0;me\x07\x9b2J\u202e\u2066\b\x7fN"
"""Blinks, names the window, rings, clears, turns the line round, rubs out."""
TOML = EVIL.encode("unicode_escape").decode().replace("\\x", "\\u00")
OURS = re.compile(r"\x1b\[(\?25[hl]|2K|1A|0?m|[0-9;]*m)|[\r\n\t]")
"""Colours, and what draws a bar anew; no colour of ours blinks."""
KIT = f"""
place = "{TOML}"
[[body]]
name = "{TOML}"
model = "x{TOML}"
[[lens]]
id = "{TOML}"
exif = ["{TOML}"]
focal_mm = 24
thread_mm = 77
[[ring]]
id = "r{TOML}"
thread_mm = 77
bore_mm = 60
"""
WORN = f"""
[[worn]]
times = [2026-05-02T00:00:00, 2026-05-03T00:00:00]
ring = "r{TOML}"
note = "{TOML}"
"""
WRONG = f'[[worn]]\nfiles = ["{TOML}"]\nring = "r{TOML}"\n"k{TOML}" = 1\n'
COMMANDS = (
    *(["kit", "check", "trip"], ["kit", "new", "trip", "--out", f"k{EVIL}.toml"], ["explain", EVIL]),
    *(
        ["audit", "trip", "--out", f"r{EVIL}", "--pixels", "off"],
        ["audit", "wrong"],
        ["kit", "check", "wrong"],
    ),
    ["audit", "trip", "--out", f"r{EVIL}", "--pixels", "full", "--kit", f"no{EVIL}.toml"],
    *(["filters", "trip"], ["draft", "trip", "--write"], ["accept", "trip"], ["accept", "trip", EVIL]),
    *(["corners", "--lens", EVIL, "--kit", "trip/kit.toml"], ["corners", "--thread", EVIL]),
    *(["archive", "trip", f"b{EVIL}"], ["verify", f"b{EVIL}"], ["verify", EVIL]),
    *(["sidecars", "trip"], ["sidecars", "trip", "--write"], ["season", "."], ["season", f"b{EVIL}"]),
    *(["season", ".", "--sql", f"FROM {EVIL}"], ["calibrate", "trip"], [EVIL], ["audit", f"--{EVIL}"]),
)
SCRIPT = """
import json, sys
from audit.cli.entry import run
codes = [run(words) for words in json.load(open("commands"))]
json.dump(codes, open("codes", "w"))
"""


def lay(place: Path) -> None:
    dump = place / "trip" / f"d{EVIL}"
    dump.mkdir(parents=True)
    words = raw_bytes(EVIL.encode() + b"\0", ASCII)
    plain = bytes.fromhex("ffd8ffc0000b080190025801011100ffda0000ffd9")
    for n in range(3):
        below = Directory(
            {0xA434: words, 0xA431: words, 0x8827: short(100), 0x9003: text("2026:05:02 10:00:00")}
        )
        block = tiff_block([Directory({0x010F: words, 0x0110: words}, below={EXIF_POINTER: below})])
        (dump / f"{n}{EVIL}.jpg").write_bytes(with_exif(plain, block))
    (dump / f"e{EVIL}.jpg").write_bytes(b"")
    (dump / os.fsdecode(b"\xff\x1b[5m.jpg")).write_bytes(b"x")
    (place / "wrong").mkdir()
    (place / "wrong" / "kit.toml").write_text(f"{KIT}k{TOML} = 1\n[[r{TOML}]]\n", encoding="utf-8")
    (place / "wrong" / "filters.toml").write_text(WRONG, encoding="utf-8")
    (place / "trip" / "kit.toml").write_text(KIT, encoding="utf-8")
    (place / "trip" / "filters.toml").write_text(WORN, encoding="utf-8")
    (place / "trip" / "keep.txt").write_text(EVIL, encoding="utf-8")
    (place / "commands").write_text(json.dumps(COMMANDS))


def on_a_terminal(place: Path) -> str:
    """All that the commands wrote to one."""
    own, theirs = pty.openpty()
    env = os.environ | {
        "TERM": "xterm-256color",
        "XDG_CONFIG_HOME": str(place),
        "PYTHONPATH": str(Path.cwd()),
    }
    env |= {"XDG_CACHE_HOME": str(place / "cache"), "COLUMNS": "200"}
    words = [sys.executable, "-c", SCRIPT]
    done = subprocess.Popen(words, cwd=place, env=env, stdin=theirs, stdout=theirs, stderr=theirs)
    os.close(theirs)
    said = b""
    try:
        while part := os.read(own, 1 << 16):
            said += part
    except OSError:  # the other end is closed
        pass
    os.close(own)
    assert done.wait(60) == 0, said.decode("utf-8", "replace")[-2000:]
    return said.decode("utf-8")


def test_nothing_acts_on_a_terminal(tmp_path: Path) -> None:
    lay(tmp_path)
    said = on_a_terminal(tmp_path)
    codes = json.loads((tmp_path / "codes").read_text())
    assert 3 not in codes and len(codes) == len(COMMANDS), codes
    for sequence in ("\x1b[5", "\x1b]", "\x07", "\x9b", "\u202e", "\u2066", "\b", "\x7f"):
        assert sequence not in said, said[max(0, said.index(sequence) - 300) :][:600]
    rest = OURS.sub("", said)
    assert {c for c in rest if unicodedata.category(c)[0] == "C"} == set(), rest
    for made in tmp_path.rglob("*.xmp"):
        read(made.read_bytes())
    for made in (*tmp_path.rglob("findings.json"), *tmp_path.rglob("datapackage.json")):
        json.loads(made.read_text(encoding="utf-8"))
    assert said.count(r"\x1b[5m") > len(COMMANDS)  # the names were told
