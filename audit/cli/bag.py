"""A bag where a dump is asked for: its pictures and what was declared of them; nothing is written into it."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from audit.errors import AuditError
from audit.message.shown import shown_name

if TYPE_CHECKING:
    from audit.archive.opened import OpenedBag
    from audit.disk.dumps import Dump
    from audit.result import Result


@dataclass(frozen=True)
class Asked:
    """What a command works on: of a bag, its pictures, and its own kit and declarations below those named.

    `typed` are the dumps as they were typed, `kit` is the one that was found, if any.
    """

    typed: Dump
    dump: Dump
    kit: Path | None
    declarations: Path | None
    bag: OpenedBag | None = None

    def titled(self, result: Result) -> Result:
        """The result under the name of the bag, not of the folder in it."""
        return result if self.bag is None else replace(result, title=self.bag.title)


@contextmanager
def asked(
    dumps: Sequence[Path], kit: Path | None, declarations: Path | None, *, write: bool = False
) -> Iterator[Asked]:
    """Dumps as they were typed, or the one bag among them. With `write` declarations will be written.

    Raises AuditError where they would be written into the bag, or where a bag is named besides others.
    """
    from audit.declare import find_kit
    from audit.disk.dumps import one_trip

    typed, opened = one_trip(dumps), _opened(dumps)
    if opened is None:
        yield Asked(typed, typed, kit or find_kit(typed), declarations)
        return
    kit = kit or opened.kit or find_kit(opened.dump)
    if write:
        _refuse_inside(opened.bag, declarations)
    if opened.declarations is None or declarations is None:
        yield Asked(typed, opened.dump, kit, declarations or opened.declarations, opened)
    elif write:
        _put(declarations, _own(opened.declarations))
        yield Asked(typed, opened.dump, kit, declarations, opened)
    else:
        with tempfile.TemporaryDirectory(prefix="cornerstop-") as folder:
            _put(Path(folder), {**_own(opened.declarations), **_own(declarations)})
            yield Asked(typed, opened.dump, kit, Path(folder), opened)


def _opened(dumps: Sequence[Path]) -> OpenedBag | None:
    from audit.archive.opened import open_bag

    found = [opened for opened in map(open_bag, dumps) if opened is not None]
    if found and len(dumps) > 1:
        raise AuditError(f"{shown_name(str(found[0].bag))}: a bag is asked for alone; name one at a time")
    return found[0] if found else None


def _refuse_inside(bag: Path, declarations: Path | None) -> None:
    from audit.disk.apart import lies_in

    if declarations is None or lies_in(declarations, bag):
        name = shown_name(str(bag))
        raise AuditError(
            f"{name}: nothing is written into a bag; name another folder with --declarations, like "
            f"--declarations notes, and then: cornerstop archive --update {name} --declarations notes"
        )


def _own(folder: Path) -> dict[str, bytes]:
    """The declarations of a tree, by their paths in it."""
    from audit.declare.read import FILE_NAME

    found = sorted(path for path in folder.rglob(FILE_NAME) if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


def _put(folder: Path, files: Mapping[str, bytes]) -> None:
    """Copies of declarations, where there is none yet."""
    from audit.disk.whole_file import put_whole

    for name, data in files.items():
        path = folder / name
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            if not path.exists():
                put_whole(path, data, replacing=False)
        except OSError as error:
            raise AuditError(f"{shown_name(str(path))}: cannot be written: {error.strerror}") from None
