"""A console that is not UTF-8 gets every message, and names it has no letters for as escapes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
AUDIT = ["audit", "card", "--out", "rep"]
COMMANDS = (
    *(
        AUDIT,
        [*AUDIT, "--json"],
        ["draft", "card"],
        ["kit", "check", "card"],
        ["--help"],
        ["audit", "--help"],
    ),
    *(
        ["corners", "--kit", "kit.toml", "--lens", "w16", "--all"],
        ["explain", "corners"],
        ["audit", "\u96ea"],
    ),
)


@pytest.mark.parametrize(
    ("encoding", "names"), [("cp1252", {}), ("ascii", {"PYTHONUTF8": "0"}), ("cp437", {})]
)
def test_every_message_arrives(place, encoding, names):
    """`names`: with it Python takes names of files for ASCII, too."""
    picture = place / "card" / "TARN0076.JPG"
    picture.with_name("Sk\u00e5rv\u00e5g \u96ea.JPG").write_bytes(picture.read_bytes())
    env = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": encoding, "LC_ALL": "C"} | names
    for command in COMMANDS:
        done = subprocess.run([sys.executable, "-m", "audit", *command], env=env, capture_output=True)
        said = done.stderr.decode(encoding, "replace")
        assert done.returncode in (0, 1, 2), (command, said)
        assert "Traceback" not in said and "a fault of" not in said
