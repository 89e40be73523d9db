"""`cornerstop completion`: the shell's completion script."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class


@click.command("completion", epilog='\b\nExample:\n  eval "$(cornerstop completion bash)"')
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@click.pass_context
def completion_command(context: click.Context, shell: str) -> None:
    """Print the completion script for SHELL."""
    kind = get_completion_class(shell)
    assert kind is not None  # click.Choice has let through only the shells that click knows
    click.echo(kind(context.find_root().command, {}, "cornerstop", "_CORNERSTOP_COMPLETE").source())
