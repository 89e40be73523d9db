"""A template is compiled once in a process; nothing of one report may get into the next by that."""

from __future__ import annotations

from jinja2 import DictLoader

from audit.report.language import Language
from audit.report.templating import environment

TEXT = '{{ "assumed"|href }} {{ "Findings"|t }}'


def told(code: str, places: dict[str, str]) -> str:
    made = environment(places, Language(code))
    made.loader = DictLoader({"x.html": TEXT})
    return made.get_template("x.html").render()


def test_places_and_language_are_those_of_each_report() -> None:
    assert told("en", {"assumed": "a.html"}) == "a.html#assumed Findings"
    assert told("en", {"assumed": "b.html"}) == "b.html#assumed Findings"
    assert told("de", {}) == "#assumed Befunde"
