"""`cornerstop explain`: what a check looks for, and why."""

from __future__ import annotations

import difflib
import textwrap
from dataclasses import asdict

import click

from audit.cli import speak
from audit.cli.options import speaking
from audit.cli.spoken import Command
from audit.errors import AuditError
from audit.finding import CheckInfo


@click.command("explain", cls=Command, epilog="\b\nExample:\n  cornerstop explain corners")
@click.argument("check", required=False)
@speaking
def explain_command(check: str | None, as_json: bool, quiet: bool) -> None:
    """Say why CHECK exists, its threshold, its source and what to do. Without CHECK: list them all."""
    from audit.check import load_checks

    known = {c.info.id: c.info for c in load_checks()}
    if check is not None and check not in known:
        near = difflib.get_close_matches(check, known, n=1)
        hint = f'did you mean "{near[0]}"?' if near else "`cornerstop explain` lists them"
        raise AuditError(f'explain: there is no check "{check}"; {hint}')
    chosen = list(known.values()) if check is None else [known[check]]
    if as_json:
        speak.as_json([asdict(info) for info in chosen])
    elif check is None:
        width = max(map(len, known))
        speak.out("\n".join(f"{info.id:<{width}}  {info.title}" for info in chosen))
    else:
        speak.out(_page(chosen[0]))


WIDTH = 80


def _page(info: CheckInfo) -> str:
    parts = {"Threshold": info.threshold, "Source": info.source, "What to do": info.advice}
    paragraphs = [
        f"{info.id}: {info.title}",
        *info.why.split("\n\n"),
        *(f"{k}: {v}" for k, v in parts.items()),
    ]
    return "\n\n".join(
        textwrap.fill(" ".join(p.split()), WIDTH, break_long_words=False, break_on_hyphens=False)
        for p in paragraphs
    )
