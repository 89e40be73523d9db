"""A language that puts every word it tells between brackets, so that what was not told shows."""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from gettext import NullTranslations

from audit.report.language import Language


class _Brackets(NullTranslations):
    """Every fixed word between brackets, so that what nobody told shows."""

    VALUE = re.compile(r"(%\(\w+\)s|%%|\{\w+(?::[^}]*)?\}|<[^>]+>|`[^`]*`)")

    def gettext(self, message):
        parts = self.VALUE.split(message)
        return "".join(p if n % 2 or not p else f"\u27e6{p}\u27e7" for n, p in enumerate(parts))

    def ngettext(self, one, many, n):
        return self.gettext(one if n == 1 else many)


def marking() -> Language:
    """The language."""
    language = Language("de")
    language.catalogue = _Brackets()
    return language


def words_of(text: str) -> set[str]:
    """Words of three letters or more."""
    return set(re.findall(r"[A-Za-z][A-Za-z']{2,}", text))


def untold_words(told: str, own: AbstractSet[str] = frozenset()) -> list[str]:
    """Words outside the brackets that are neither the photographer's `own` nor a command."""
    return sorted(words_of(re.sub("\u27e6[^\u27e7]*\u27e7|`[^`]*`", " ", told)) - own)
