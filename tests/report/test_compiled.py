"""A template is compiled once in a process; nothing of one report may get into the next by that."""

from __future__ import annotations

from jinja2 import DictLoader

from audit.message.text import Text
from audit.report.language import Language
from audit.report.templating import environment
from audit.scan.note import Note

TEXT = '{{ "assumed"|href }} {{ "Findings"|t }}'


def told(code: str, places: dict[str, str]) -> str:
    made = environment(places, Language(code))
    made.loader = DictLoader({"x.html": TEXT})
    return made.get_template("x.html").render()


def test_a_text_of_any_class_shows_what_is_hidden_and_is_escaped() -> None:
    made = environment()
    made.loader = DictLoader({"x.html": "{{ words }}"})
    for words in ("a\u202e<b>", Text("a\u202e<b>"), Note("a\u202e<b>", "damage")):
        assert made.get_template("x.html").render(words=words) == r"a\u202e&lt;b&gt;"


def test_places_and_language_are_those_of_each_report() -> None:
    assert told("en", {"assumed": "a.html"}) == "a.html#assumed Findings"
    assert told("en", {"assumed": "b.html"}) == "b.html#assumed Findings"
    assert told("de", {}) == "#assumed Befunde"
