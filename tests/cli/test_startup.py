"""The command line starts without the heavy packages, and every command shows an example."""

import subprocess
import sys

import click
import pytest

from audit.cli.entry import cli

HEAVY = {"numpy", "pandas", "pyarrow", "pydantic", "jinja2", "PIL", "exifread", "rich", "lensfunpy"}


def commands(command=cli, path=()):
    yield path, command
    for name, child in getattr(command, "commands", {}).items():
        yield from commands(child, (*path, name))


@pytest.mark.parametrize("path", [p for p, _ in commands()], ids=" ".join)
def test_help_has_an_example_and_loads_nothing_heavy(path):
    script = f"import sys; from audit.cli.entry import run; run({[*path, '--help']!r}); print(*sys.modules)"
    out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
    text, modules = out.rstrip("\n").rsplit("\n", 1)
    assert not HEAVY & set(modules.split())
    assert "Example:" in text
    assert "cornerstop" in text


def test_every_option_has_a_help_text():
    for path, command in commands():
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help or parameter.show_default, f"{' '.join(path)} {parameter.name}"
