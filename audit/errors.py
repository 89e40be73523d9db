"""The errors and mistakes that are the user's to mend: one clear line each."""

from __future__ import annotations

from dataclasses import dataclass


class AuditError(Exception):
    """Something the user can mend: says what, in which file or key, and what to do."""


@dataclass(frozen=True, order=True)
class Mistake:
    """Where (`path` as shown, `line`, `key`), what is wrong and what to do; `level` is error or warning."""

    path: str
    line: int
    key: str
    text: str
    level: str = "error"

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.key + ': ' if self.key else ''}{self.text}"


class DeclarationError(AuditError):
    """Kit or declarations cannot be understood; carries every mistake of every file read."""

    def __init__(self, mistakes: tuple[Mistake, ...]) -> None:
        super().__init__("\n".join(str(m) for m in mistakes))
        self.mistakes = mistakes
