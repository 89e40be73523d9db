"""`cornerstop completion`: the shell's completion script, and the answers it asks for."""

from __future__ import annotations

import os

import click
from click.shell_completion import get_completion_class

from audit.cli import speak
from audit.cli.spoken import Command

COMPLETE = "_CORNERSTOP_COMPLETE"
"""The variable by which the shell asks: bash_complete and so on."""


@click.command("completion", cls=Command, epilog='\b\nExample:\n  eval "$(cornerstop completion bash)"')
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def completion_command(context: click.Context, shell: str) -> None:
    """Print the completion script for SHELL."""
    kind = get_completion_class(shell)
    assert kind is not None  # click.Choice has let through only the shells that click knows
    speak.out(kind(context.find_root().command, {}, "cornerstop", COMPLETE).source())


def complete(command: click.Command) -> int:
    """Answers the shell; 1 where it asks for what there is not."""
    shell, _, wanted = os.environ[COMPLETE].partition("_")
    kind = get_completion_class(shell)
    if kind is None or wanted not in ("source", "complete"):
        return 1
    answer = kind(command, {}, "cornerstop", COMPLETE)
    speak.out(answer.source() if wanted == "source" else answer.complete())
    return 0
