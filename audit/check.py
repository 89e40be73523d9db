"""Finds the checks, runs them over the table, and keeps one broken check from ending the run."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import pandas as pd

from audit import checks as package
from audit.finding import LEVELS, CheckInfo, CheckRun, Finding
from audit.message.text import marked, say
from audit.table.column import REAL, TIME
from audit.table.columns import BY_NAME

TEXTS = ("ID", "TITLE", "THRESHOLD", "SOURCE", "ADVICE")


@dataclass(frozen=True)
class Check:
    """One check: what stands beside it, and the function from table to findings.

    `may_lack` are needed columns that may be empty in every frame (MAY_LACK of the module).
    """

    info: CheckInfo
    find: Callable[[pd.DataFrame], Iterable[Finding]]
    may_lack: tuple[str, ...] = ()


def load_checks() -> list[Check]:
    """Every module of audit.checks without a leading underscore, in the order of their ids.

    Raises TypeError naming the module when a constant, the docstring or the signature is missing, an
    id differs from the file name, or a needed column does not exist.
    """
    names = sorted(m.name for m in pkgutil.iter_modules(package.__path__) if not m.name.startswith("_"))
    return [_load(name) for name in names]


def _load(name: str) -> Check:
    module = importlib.import_module(f"{package.__name__}.{name}")
    where = module.__file__
    for constant in TEXTS:
        if not isinstance(getattr(module, constant, None), str):
            raise TypeError(f"{where}: {constant} is missing or not a text")
    if name.replace("_", "-") != module.ID:
        raise TypeError(f"{where}: ID {module.ID!r} differs from the file name")
    if not module.__doc__:
        raise TypeError(f"{where}: the docstring (why the check exists) is missing")
    strangers = [c for c in module.NEEDS if c not in BY_NAME]
    if strangers:
        raise TypeError(f"{where}: NEEDS names no column of the table: {', '.join(strangers)}")
    if list(inspect.signature(module.find).parameters) != ["frames"]:
        raise TypeError(f"{where}: find must take the table, as 'frames', and nothing else")
    info = CheckInfo(
        module.ID,
        module.TITLE,
        inspect.cleandoc(module.__doc__),
        module.THRESHOLD,
        module.SOURCE,
        module.ADVICE,
        tuple(module.NEEDS),
    )
    return Check(info, module.find, tuple(getattr(module, "MAY_LACK", ())))


def run_checks(
    frames: pd.DataFrame, checks: list[Check] | None = None
) -> tuple[list[Finding], list[CheckRun]]:
    """All findings, worst level first, then by check and first frame; and how each check went.

    A check whose columns are missing or empty is not run; one that raises has failed: the others still run.
    """
    findings: list[Finding] = []
    runs: list[CheckRun] = []
    for check in load_checks() if checks is None else checks:
        run, found = _run(check, frames)
        runs.append(run)
        findings.extend(found)
    rank = {level: i for i, level in enumerate(LEVELS)}
    findings.sort(key=lambda f: (rank[f.level], f.check, f.frames))
    return findings, runs


def _run(check: Check, frames: pd.DataFrame) -> tuple[CheckRun, list[Finding]]:
    why = _lacking(check, frames)
    if why:
        return CheckRun(check.info, "not run", 0, why), []
    try:
        found = list(check.find(frames))
    except Exception as error:  # one broken check must not cost the photographer the others
        message = marked("failed: {kind_name}: {error_written}")
        why = say(message, kind_name=type(error).__name__, error_written=error)
        return CheckRun(check.info, "failed", 0, why), []
    return CheckRun(check.info, "ran", len(found)), found


def _lacking(check: Check, frames: pd.DataFrame) -> str:
    """Why the table does not let a check run, or an empty text."""
    missing = [c for c in check.info.needs if c not in frames.columns]
    if missing:
        return say("not run: the table has no {columns_written}", columns_written=", ".join(missing))
    # A text may be rightly empty (no problem anywhere); a number that no frame has leaves nothing to judge.
    needed = [c for c in check.info.needs if c not in check.may_lack]
    numbers = [c for c in needed if BY_NAME[c].kind in (REAL, TIME)]
    empty = [c for c in numbers if frames[c].isna().all()]
    if empty and len(frames):
        return say("not run: no frame has {columns_written}", columns_written=", ".join(empty))
    return ""
