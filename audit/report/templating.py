"""The jinja2 environment: where the templates are, and what may leave them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

from audit.message.text import marked
from audit.report.compiled import TemplateEnvironment, compiled, escaped, printable, written
from audit.report.language import ENGLISH, Language

PACKAGE = Path(__file__).resolve().parents[1]
STYLES = (
    "paper.css",
    "parts.css",
    "frames.css",
    "shown.css",
    "pages.css",
    "setups.css",
    "pictures.css",
    "desk.css",
    "print.css",
)
SCRIPTS = ("report.js", "desk.js")
PRACTICE = marked("common practice, no source")
"""What a check's source says of a fact of the trade; pages show a dagger and explain it once."""


def templates_folder() -> Path:
    """Folder that holds report.html: inside the installed package, else beside it in a checkout."""
    tried = (PACKAGE / "templates", PACKAGE.parent / "templates")
    for folder in tried:
        if (folder / "report.html").is_file():
            return folder
    raise FileNotFoundError(f"report.html is in neither {tried[0]} nor {tried[1]}; install the package again")


def style_sheet() -> str:
    """The style of all pages, as one sheet."""
    return "".join((templates_folder() / "style" / name).read_text(encoding="utf-8") for name in STYLES)


def script() -> str:
    """The script of the pages; all they say is there without it."""
    return "".join((templates_folder() / "script" / name).read_text(encoding="utf-8") for name in SCRIPTS)


def environment(
    places: Mapping[str, str] | None = None,
    language: Language = ENGLISH,
    elsewhere: Mapping[str, str] | None = None,
) -> Environment:
    """Environment that escapes everything, stops at an undefined name and shows hidden characters.

    `places` says on which page each anchor lies; without it all lie on the page itself. `elsewhere` gives for
    an anchor that is nowhere the one to lead to in its place. A text that is words
    goes through the filter `t`, which tells it in the language; one in a trans block that comes from a file
    through `name`.
    """
    of, instead = places or {}, elsewhere or {}
    made = TemplateEnvironment(
        loader=FileSystemLoader(templates_folder()),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=written,  # of what is known when a template is compiled
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
        bytecode_cache=compiled(language.catalogue),
    )
    made.policies["ext.i18n.trimmed"] = True
    _speak(made, language)

    @pass_context  # asked when a page is written: where an anchor lies must not be compiled into a template
    def href(_context: Context, anchor: str) -> str:
        return f"{of.get(anchor, '')}#{instead.get(anchor, anchor)}"

    made.filters["href"] = href
    return made


def _speak(made: Environment, language: Language) -> None:
    """The filters and functions that know the language."""
    words = language.catalogue
    made.install_gettext_callables(words.gettext, words.ngettext, newstyle=True)  # type: ignore[attr-defined]
    made.globals["told"] = words.gettext
    made.filters["t"] = language.tell
    made.filters["name"] = lambda text: text if isinstance(text, Markup) else escaped(text)
    made.filters["sources"] = lambda text: language.tell(text).replace(language.tell(PRACTICE), "\N{DAGGER}")
    made.filters["paragraphs"] = lambda text: [" ".join(p.split()) for p in language.tell(text).split("\n\n")]
    made.filters["commands"] = lambda text: commands(language.tell(text))
    made.globals["lang"] = language.code


def commands(text: str) -> Markup:
    """The text, escaped; what stands in backticks as code."""
    parts = re.split(r"`([^`]+)`", printable(text))
    shown = (Markup("<code>{}</code>").format(p) if n % 2 else escape(p) for n, p in enumerate(parts))
    return Markup("").join(shown)
