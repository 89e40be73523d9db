"""Every formula says in one shape what it takes and gives, in which unit, and who published it."""

import inspect
import re
from dataclasses import fields, is_dataclass
from importlib import import_module
from pkgutil import iter_modules

import pytest

from audit import optics

UNITS = {"1", "-", "%", "mm", "m", "um", "px", "px/in", "deg", "deg/min", "s", "min", "K", "mired", "lux"}
UNITS |= {"stop", "stop^2", "stop/min", "deg^2"}
ENTRY = re.compile(r"(\w+) : (?:.* )?\[([^\]]+)\]")


def public():
    """(name, object) of every public class, function and method that audit.optics defines."""
    for module in iter_modules(optics.__path__, "audit.optics."):
        for name, one in vars(import_module(module.name)).items():
            if not (inspect.isclass(one) or inspect.isfunction(one)) or name.startswith("_"):
                continue
            if one.__module__ != module.name:
                continue
            yield f"{module.name}.{name}", one
            for inner, method in vars(one).items() if inspect.isclass(one) else ():
                method = getattr(method, "__func__", method)
                if inspect.isfunction(method) and not inner.startswith("_"):
                    yield f"{module.name}.{name}.{inner}", method


PUBLIC = dict(public())
FUNCTIONS = [name for name, one in PUBLIC.items() if inspect.isfunction(one)]
RECORDS = [name for name, one in PUBLIC.items() if is_dataclass(one) or hasattr(one, "_fields")]


def sections(one):
    """Lines of each section by its heading; what stands before the first one under ""."""
    lines = inspect.getdoc(one).splitlines()
    found, title = {"": []}, ""
    for line, below in zip(lines, [*lines[1:], ""], strict=True):
        if line and below == "-" * len(line):
            title = line
            found[title] = []
        elif line.strip("-"):
            found[title].append(line)
    return found


def units(lines):
    """Unit of each entry by its name; lines further in belong to the entry above."""
    entries = [line for line in lines if not line.startswith(" ")]
    matches = [ENTRY.fullmatch(line) for line in entries]
    assert all(matches), f"no unit, or no name: {[e for e, m in zip(entries, matches, strict=True) if not m]}"
    return dict(match.groups() for match in matches)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_names_its_parameters_with_units_its_result_and_its_source(name):
    told = sections(PUBLIC[name])
    taken = [p for p in inspect.signature(PUBLIC[name]).parameters if p not in ("self", "cls")]
    assert len(told[""][0]) > 10 and told["Source"] and told["Returns"]
    given = units(told["Parameters"])
    assert list(given) == taken
    results = re.findall(r"\[([^\]]+)\]", " ".join(told["Returns"]))
    assert results and {*given.values(), *results} <= UNITS
    assert set(told) <= {"", "Parameters", "Returns", "Raises", "Source"}


@pytest.mark.parametrize("name", RECORDS)
def test_a_record_names_its_attributes_with_units(name):
    one = PUBLIC[name]
    attributes = [f.name for f in fields(one)] if is_dataclass(one) else list(one._fields)
    given = units(sections(one)["Attributes"])
    assert list(given) == attributes and set(given.values()) <= UNITS


def test_raises_is_told_where_the_code_raises():
    for name in FUNCTIONS:
        raising = "raise " in inspect.getsource(PUBLIC[name])
        assert not raising or "Raises" in sections(PUBLIC[name]), name


def test_the_formulae_are_found():
    assert len(FUNCTIONS) > 60 and len(RECORDS) > 15
