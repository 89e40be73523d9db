"""Validation errors in plain words."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from audit.declare.fault import Fault, suggestion

_NUMBER = "should be a number, not {got}"
_PAIR = "should be a list of two, not {got}"
_DATE = "should be a date and time like 2026-05-02T05:10:00, not {got}"
_WORDS = {
    "float_type": _NUMBER,
    "int_type": "should be a whole number, not {got}",
    "int_from_float": "should be a whole number, not {got}",
    "string_type": "should be text in quotes, not {got}",
    "string_too_short": "is empty",
    "string_pattern_mismatch": "{got} begins or ends with a space",
    "bool_type": "should be true or false, not {got}",
    "list_type": "should be a list, not {got}",
    "tuple_type": "should be a list, not {got}",
    "datetime_type": _DATE,
    "datetime_parsing": _DATE,
    "datetime_from_date_parsing": _DATE,
    "greater_than": "should be more than {gt:g}, not {got}",
    "greater_than_equal": "should be {ge:g} or more, not {got}",
    "less_than_equal": "should be {le:g} or less, not {got}",
    "finite_number": "should be a finite number, not {got}",
    "too_short": "needs at least {min_length} entry, has {actual_length}",
    "too_long": "takes at most {max_length} entries, has {actual_length}",
    "rule": "{text}",
}


def faults(error: ValidationError, table: str, model: type[BaseModel]) -> list[Fault]:
    """Every mistake pydantic found in one table `[[table]]`."""
    return [_fault(detail, table, model) for detail in error.errors(include_url=False)]


def _fault(detail: ErrorDetails, table: str, model: type[BaseModel]) -> Fault:
    context = detail.get("ctx", {})
    loc = detail["loc"]
    key = str(context.get("key", loc[0] if loc else ""))
    item = next((part for part in loc[1:] if isinstance(part, int)), None)
    if detail["type"] == "missing" and item is not None:
        return Fault(key, f"needs {item + 1} values or more, has {item}")
    return Fault(key, _text(detail, context, key, table, model), item=item)


def _text(detail: ErrorDetails, context: dict[str, Any], key: str, table: str, model: type[BaseModel]) -> str:
    kind, got = detail["type"], shown(detail["input"])
    if kind == "extra_forbidden":
        known = [f.alias or name for name, f in model.model_fields.items()]
        return f"unknown key; {suggestion(key, known, f'[[{table}]] knows')}"
    if kind == "missing":
        return f"is missing; every [[{table}]] needs it"
    if kind == "literal_error":
        known = [k.strip("' ") for k in context["expected"].replace(" or ", ", ").split(",")]
        return f"{got} is unknown; {suggestion(str(detail['input']), known, 'write one of')}"
    words = _WORDS.get(kind)
    return words.format(got=got, **context) if words else detail["msg"]


def shown(value: object) -> str:
    """A value as TOML would write it, cut to one short line."""
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, dict):
        text = "a table"
    else:
        text = str(value)
    text = " ".join(text.split())
    return text if len(text) <= 40 else text[:37] + "..."
