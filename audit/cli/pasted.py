"""Commands that are printed to be pasted back: quoted for a shell, with the options of the run."""

from __future__ import annotations

import os
import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from audit.errors import AuditError

if TYPE_CHECKING:
    from audit.disk.dumps import Dump
    from audit.pixels.sources import Mode


@dataclass(frozen=True)
class AsTyped:
    """The folders and the options of `cornerstop draft` as they were typed."""

    dump: Dump
    kit: Path | None
    declarations: Path | None
    place: tuple[float, float] | None
    pixels: Mode
    no_cache: bool

    def answer(self, frames: str, what: str) -> str:
        """The command that answers a question; the answer is its last word, so that it is soon changed."""
        from audit.disk.dumps import tops

        words = ["cornerstop", "draft", *map(_path, tops(self.dump))]
        for option, path in (("--kit", self.kit), ("--declarations", self.declarations)):
            words += [option, _path(path)] if path is not None else []
        words += [f"--place={self.place[0]!r},{self.place[1]!r}"] if self.place is not None else []
        words += [f"--pixels={self.pixels}"] if self.pixels != "preview" else []
        words += ["--no-cache"] if self.no_cache else []
        return " ".join(map(quoted, (*words, "--write", "--say", frames, what)))


def command(*words: str | Path) -> str:
    """A command of this program as it is typed; paths are those of this run."""
    typed = [_path(word) if isinstance(word, Path) else word for word in words]
    return " ".join(map(quoted, ("cornerstop", *typed)))


def begin_kit(folders: Sequence[Path]) -> str:
    """The commands that begin a kit from the first dump and add what the others hold."""
    from audit.kit.read import kit_places

    made = ("--out", kit_places(folders[0])[1])
    first = command("kit", "new", folders[0], *(made if len(folders) > 1 else ()))
    more = (command("kit", "new", folder, "--add", *made, "--write") for folder in folders[1:])
    return " && ".join((first, *more))


def no_kit(dump: Path) -> AuditError:
    """No kit was named or found."""
    begin = command("kit", "new", dump)
    return AuditError(
        f"{dump}: no kit.toml in it, beside it or in the user's configuration; begin one: {begin}"
    )


def quoted(word: str) -> str:
    """A word as bash and zsh take it, whatever characters are in it, and as a terminal shows it."""
    if word.isprintable():
        return shlex.quote(word)
    plain = (chr(b) if 32 <= b < 127 and b not in b"'\\" else f"\\x{b:02x}" for b in os.fsencode(word))
    return f"$'{''.join(plain)}'"


def _path(path: Path) -> str:
    """A path that is never taken for an option."""
    return f"./{path}" if str(path).startswith("-") else str(path)
