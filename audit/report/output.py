"""A folder that appears whole or not at all, and replaces only a folder of our own."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from audit.errors import AuditError
from audit.model.marker import OUTPUT_MARKER

MARKER_TEXT = (
    "Written by cornerstop, which may replace this folder as a whole. Keep nothing of your own in it.\n"
)


def write_folder(
    out: Path, fill: Callable[[Path], None], place: Callable[[Path, Path], None] | None = None
) -> Path:
    """Fills a fresh folder beside `out`, then puts it in place: renamed whole, or by `place`(fresh, out).

    Raises AuditError where `out` is not a folder of ours or the disk refuses. Whatever stops `fill`,
    Ctrl-C too, leaves the old folder as it was and nothing new.
    """
    out = out.resolve()
    refuse_foreign(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
    except OSError as error:
        raise _refused(out, error) from error
    try:
        (fresh / OUTPUT_MARKER).write_text(MARKER_TEXT, encoding="utf-8")
        fill(fresh)
        fresh.chmod(0o777 & ~_umask())  # mkdtemp leaves it to the owner alone
        (place or _swap)(fresh, out)
    except OSError as error:
        raise _refused(out, error) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return out


def refuse_foreign(out: Path) -> None:
    """Raises AuditError where `out` is neither free nor a folder that this program has written."""
    if not out.exists():
        return
    if not out.is_dir():
        raise AuditError(f"{out}: is a file; name a folder for the report")
    if any(out.iterdir()) and not (out / OUTPUT_MARKER).is_file():
        raise AuditError(
            f"{out}: not written by cornerstop ({OUTPUT_MARKER} is missing); name another folder"
        )


def _swap(fresh: Path, out: Path) -> None:
    if not out.exists():
        fresh.rename(out)
        return
    aside = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
    try:
        out.rename(aside / "old")
        fresh.rename(out)
    except BaseException:
        if (aside / "old").exists() and not out.exists():
            (aside / "old").rename(out)
        raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _refused(out: Path, error: OSError) -> AuditError:
    return AuditError(
        f"{out}: cannot write the report: {error.strerror or error}; free space or name another folder"
    )


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
