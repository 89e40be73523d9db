"""Several dumps as one: each is a folder of the table, by a short name of its own.

One dump stays a Path. Both take `dump / path`, where the path is one below the dump as the table writes it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from audit.disk.apart import lies_in
from audit.errors import AuditError
from audit.message.shown import alike, shown_name


@dataclass(frozen=True)
class Dumps:
    """Two dumps or more, by the names that folders in the table begin with.

    `spelt` are files that lie in an archive by a new name: the one that the table writes, by the new one.
    """

    named: dict[str, Path]
    spelt: dict[str, str] = field(default_factory=dict)

    @cached_property
    def _new(self) -> dict[str, str]:
        return {old: new for new, old in self.spelt.items()}

    def __truediv__(self, shown: str) -> Path:
        name, _, below = self._new.get(shown, shown).partition("/")
        return self.named[name] / below

    def __str__(self) -> str:
        return ", ".join(map(str, self.named.values()))


Dump = Path | Dumps


def one_trip(folders: Sequence[Path]) -> Dump:
    """The dumps as they were typed. Raises AuditError where one is named twice or lies in another."""
    for number, folder in enumerate(folders):
        for other in folders[:number]:
            _refuse_nested(folder, other)
    return folders[0] if len(folders) == 1 else Dumps(_named(folders))


def tops(dump: Dump) -> tuple[Path, ...]:
    """The folder of each dump, in the order they were typed."""
    return (dump,) if isinstance(dump, Path) else tuple(dump.named.values())


def parts(dump: Dump) -> Iterator[tuple[str, Path]]:
    """What paths of the table begin with, and the folder it stands for; "" where there is one dump."""
    if isinstance(dump, Path):
        yield "", dump
        return
    yield from ((f"{name}/", folder) for name, folder in dump.named.items())


def has_folder(dump: Dump, below: Path) -> bool:
    """Whether the dump has such a folder; of several, "." holds them all."""
    if isinstance(dump, Path):
        return (dump / below).is_dir()
    if not below.parts:
        return True
    top = dump.named.get(shown_name(below.parts[0]))
    return top is not None and top.joinpath(*below.parts[1:]).is_dir()


def title(dump: Dump) -> str:
    """What the report is called."""
    return dump.resolve().name if isinstance(dump, Path) else " + ".join(dump.named)


def resolved(dump: Dump) -> tuple[Path, ...]:
    """The folders with whole paths, for commands that are printed."""
    return tuple(folder.resolve() for folder in tops(dump))


def _refuse_nested(folder: Path, other: Path) -> None:
    if lies_in(folder, other) and lies_in(other, folder):
        raise AuditError(f"{folder}: the same folder as the dump {other}; name each dump once")
    for inner, outer in ((folder, other), (other, folder)):
        if lies_in(inner, outer):
            raise AuditError(f"{inner}: lies in the dump {outer}, which is read whole; name only that one")


def _named(folders: Sequence[Path]) -> dict[str, Path]:
    """Each by its folder's name, with a number where an earlier one is called alike."""
    wanted = [_name(folder) for folder in folders]
    reserved = {alike(name) for name in wanted}
    taken: set[str] = set()
    named: dict[str, Path] = {}
    for folder, short in zip(folders, wanted, strict=True):
        name, number = short, 2
        # "card-2" is left to a folder that is really called so.
        while alike(name) in taken or (name != short and alike(name) in reserved):
            name, number = f"{short}-{number}", number + 1
        taken.add(alike(name))
        named[name] = folder
    return named


def _name(folder: Path) -> str:
    """The folder's name; the root of a drive has none but its letter."""
    whole = folder.resolve()
    return shown_name(whole.name or whole.drive.strip(":\\/").rpartition("\\")[2]) or "dump"
