"""Commands whose help goes to the terminal as all else does."""

from __future__ import annotations

import click

from audit.cli import speak


class Command(click.Command):
    """A command."""

    def get_help_option(self, ctx: click.Context) -> click.Option | None:
        """The option --help."""
        option = super().get_help_option(ctx)
        if option is not None:
            option.callback = _help
        return option


class Group(Command, click.Group):
    """A command of commands."""

    command_class = Command


def _help(context: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        speak.out(context.get_help())
        context.exit()
