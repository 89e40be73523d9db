"""Validation errors in plain words."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from audit.message.text import marked, say
from audit.toml.fault import Fault, suggestion

MOST_FAULTS = 20
"""So many mistakes of one table are told; of the rest the number is enough."""
YES_NO = marked("should be true or false")
UNKNOWN_KEY = marked("unknown table or key; {hint}")
BRACKETS = marked("is a list of tables; write [[{table_key}]] with double brackets")

_DATE = marked("should be a date and time like 2026-05-02T05:10:00")
_EXPECTED = {
    "float_type": marked("should be a number"),
    "int_type": marked("should be a whole number"),
    "int_from_float": marked("should be a whole number"),
    "string_type": marked("should be text in quotes"),
    "bool_type": YES_NO,
    "list_type": marked("should be a list"),
    "tuple_type": marked("should be a list"),
    "datetime_type": _DATE,
    "datetime_parsing": _DATE,
    "datetime_from_date_parsing": _DATE,
    "greater_than": marked("should be more than {gt:g}"),
    "greater_than_equal": marked("should be {ge:g} or more"),
    "less_than_equal": marked("should be {le:g} or less"),
    "finite_number": marked("should be a finite number"),
}
"""What should stand there, by pydantic's name for the error."""

_WORDS = {
    "string_too_short": marked("is empty"),
    "string_pattern_mismatch": marked("{got_written} begins or ends with a space"),
    "too_short": marked("needs at least {min_length} entry, has {actual_length}"),
    "too_long": marked("takes at most {max_length} entries, has {actual_length}"),
}


def faults(error: ValidationError, table: str, model: type[BaseModel]) -> list[Fault]:
    """Every mistake pydantic found in one table `[[table]]`; one number that stands for two is told once."""
    found: dict[tuple[str, str], Fault] = {}
    details = error.errors(include_url=False)
    for detail in details[:MOST_FAULTS]:
        fault = _fault(detail, table, model)
        found.setdefault((fault.key, fault.text), fault)
    if len(details) > MOST_FAULTS:
        more = len(details) - MOST_FAULTS
        found["", ""] = Fault("", say("and {count} more mistakes in the same table", count=more))
    return list(found.values())


def _fault(detail: ErrorDetails, table: str, model: type[BaseModel]) -> Fault:
    context = detail.get("ctx", {})
    loc = detail["loc"]
    key = str(context.get("key", loc[0] if loc else ""))
    item = next((part for part in loc[1:] if isinstance(part, int)), None)
    if detail["type"] == "missing" and item is not None:
        text = say("needs {needed} values or more, has {count}", needed=item + 1, count=item)
        return Fault(key, text)
    return Fault(key, _text(detail, context, key, table, model), item=item)


def _text(detail: ErrorDetails, context: dict[str, Any], key: str, table: str, model: type[BaseModel]) -> str:
    kind, got = detail["type"], detail["input"]
    if kind == "rule":
        told: str = context["text"]
        return told
    if kind == "extra_forbidden":
        known = [f.alias or name for name, f in model.model_fields.items()]
        hint = suggestion(key, known, marked("[[{table_key}]] knows {known_key}"), table_key=table)
        return say("unknown key; {hint}", hint=hint)
    if kind == "missing":
        return say("is missing; every [[{table_key}]] needs it", table_key=table)
    if kind == "literal_error":
        known = [k.strip("' ") for k in context["expected"].replace(" or ", ", ").split(",")]
        return _unknown(got, suggestion(str(got), known, marked("write one of {known_key}")))
    if kind in _EXPECTED:
        return unlike(say(_EXPECTED[kind], **context), got)
    return say(_WORDS[kind], got_written=shown(got), **context) if kind in _WORDS else detail["msg"]


def unlike(expected: str, value: object) -> str:
    """What should stand there, and what does."""
    if isinstance(value, dict):
        return say("{expected}, not a table", expected=expected)
    return say("{expected}, not {got_written}", expected=expected, got_written=shown(value))


def _unknown(value: object, hint: str) -> str:
    if isinstance(value, dict):
        return say("a table is unknown; {hint}", hint=hint)
    return say("{got_written} is unknown; {hint}", got_written=shown(value), hint=hint)


def shown(value: object) -> str:
    """A value as TOML would write it, cut to one short line."""
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, bool):
        text = "true" if value else "false"
    else:
        text = str(value)
    text = " ".join(text.split())
    return text if len(text) <= 40 else text[:37] + "..."
