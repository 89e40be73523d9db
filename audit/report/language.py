"""The language of a report: messages by their catalogue, numbers and dates by its locale."""

from __future__ import annotations

import io
from datetime import date
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from numbers import Real
from pathlib import Path
from string import Formatter
from typing import Any

from audit.errors import AuditError
from audit.message.text import NAMES, Figure, Made, Message, Phrases, made_of

CATALOGUES = Path(__file__).resolve().parents[1] / "locale"


def languages() -> list[str]:
    """Codes of the languages a report can be written in; English needs no catalogue."""
    return ["en", *sorted(path.stem for path in CATALOGUES.glob("*.po"))]


class Language:
    """Tells texts in one language."""

    def __init__(self, code: str = "en") -> None:
        """Raises AuditError for a language without a catalogue."""
        if code not in languages():
            raise AuditError(f"--lang {code}: no such language; there are {', '.join(languages())}")
        self.code = code
        self.catalogue = _catalogue(code)

    def tell(self, text: str) -> str:
        """The text in this language; what is neither made of messages nor in the catalogue stays as it is."""
        if self.code == "en" or not text:
            return text
        made = made_of(text)
        return self.catalogue.gettext(text) if made is None else self._made(made)

    def _made(self, made: Made) -> str:
        match made:
            case Message():
                return self._message(made)
            case Phrases():
                return made.by.join(self.tell(part) for part in made.parts)
            case Figure():
                return self._number(made.text)
        return self.day(made)

    def _message(self, made: Message) -> str:
        if not made.many:
            return _Words(self).vformat(self.catalogue.gettext(made.text), (), made.values)
        n = int(str(made.values["n"]))
        shown = f"{n:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
        found = self.catalogue.ngettext(made.text, made.many, n)
        return _Words(self).vformat(found, (), {**made.values, "n": shown})

    def day(self, at: date) -> str:
        """A day as the locale writes it."""
        from babel.dates import format_date

        return at.isoformat() if self.code == "en" else str(format_date(at, "medium", locale=self.code))

    def value(self, name: str, value: object, spec: str) -> str:
        """One value of a message: a number by the locale, a text told, a name as it is."""
        if isinstance(value, Real) and not isinstance(value, bool):
            return self._number(format(value, spec))
        shown = value if isinstance(value, str) else format(value, spec)
        return shown if name.rsplit("_", 1)[-1] in NAMES else self.tell(shown)

    def _number(self, text: str) -> str:
        from babel.numbers import get_decimal_symbol

        return text.replace(".", get_decimal_symbol(self.code))


class _Words(Formatter):
    """str.format whose fields a language writes."""

    def __init__(self, language: Language) -> None:
        self._language = language

    def get_field(self, field_name: str, args: Any, kwargs: Any) -> Any:
        """The value with its name, which says whether it is a name itself."""
        return (field_name, kwargs[field_name]), field_name

    def format_field(self, value: Any, format_spec: str) -> str:
        """A value as the language writes it."""
        name, held = value
        return self._language.value(name, held, format_spec)


@lru_cache
def _catalogue(code: str) -> NullTranslations:
    if code == "en":
        return NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    with (CATALOGUES / f"{code}.po").open("rb") as file:
        messages = read_po(file, locale=code)
    compiled = io.BytesIO()
    write_mo(compiled, messages)
    compiled.seek(0)
    return GNUTranslations(compiled)


ENGLISH = Language()
"""English, as the tables have it."""
