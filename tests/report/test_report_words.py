from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from audit.message.shown import writable
from audit.report.compiled import printable
from audit.report.templating import environment
from audit.report.words import (
    corner_loss,
    known,
    number,
    seconds,
    span,
    stops,
    texts,
    widest_clear,
    without_folders,
)


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (1 / 8000, "1/8000 s"),
        (1 / 128, "1/128 s"),
        (0.1, "1/10 s"),
        (1 / 12.7, "1/12.7 s"),
        (0.4, "0.4 s"),
        (1.0, "1 s"),
        (32.0, "32 s"),
        (240.0, "240 s (4 min)"),
        (301.0, "301 s (5 min 1 s)"),
        (0.0, "0 s"),
    ],
)
def test_seconds(value: float, shown: str) -> None:
    assert seconds(value) == shown


def test_numbers_and_ranges() -> None:
    assert number(11.3137) == "11.31"
    assert number(-0.001) == "0"
    assert number(-1.5) == "\N{MINUS SIGN}1.5"
    assert number(100.0, 0) == "100"
    assert span(1.0, 2.0) == "1 to 2"
    assert stops(1.0) == "1 stop"
    assert stops(0.6, 1.4) == "0.6 to 1.4 stops"


@pytest.mark.parametrize(
    ("low", "high", "shown"),
    [
        (0.0, 0.01, "nothing lost in the corner"),
        (0.6, 1.4, "0.6 to 1.4 stops lost in the corner"),
        (0.0, math.inf, "nothing lost in the corner at best, black at worst"),
        (0.6, math.inf, "0.6 stops lost in the corner at best, black at worst"),
        (math.inf, math.inf, "black in the corner"),
    ],
)
def test_corner_loss(low: float, high: float, shown: str) -> None:
    assert corner_loss(low, high) == shown


@pytest.mark.parametrize("null", [None, float("nan"), pd.NA, pd.NaT, "", [], np.array([]), np.float64("nan")])
def test_nulls_are_not_known(null: object) -> None:
    assert not known(null) and texts(null) == []


@pytest.mark.parametrize("value", ["a", 0, 0.0, False, ["a"], np.array(["a"]), math.inf])
def test_values_are_known(value: object) -> None:
    assert known(value)


def test_absolute_paths_lose_their_folders() -> None:
    assert without_folders("/home/someone/kit.toml") == "kit.toml"
    assert without_folders(r"C:\Users\someone\kit.toml") == "kit.toml"
    assert without_folders("DCIM/filters.toml") == "DCIM/filters.toml"


def test_hidden_characters_are_shown() -> None:
    assert printable("\u202egnp.exe") == "\\u202egnp.exe"
    assert printable("caf\udce9\x00\n") == "caf\\xe9\\x00\\x0a"
    assert printable("Ångström 雪") == "Ångström 雪"
    assert writable("caf\udce9\n\u202e").encode("utf-8") == "caf\\xe9\n\u202e".encode()


def test_whatever_leaves_a_template_is_escaped() -> None:
    shown = environment().from_string("{{ name }}").render(name='"><b>\u202e')
    assert shown == "&#34;&gt;&lt;b&gt;\\u202e"


def test_backticks_become_code_and_the_rest_is_escaped() -> None:
    shown = environment().from_string("{{ words|commands }}").render(words="run `a <b>` & `c` or `d")
    assert shown == "run <code>a &lt;b&gt;</code> &amp; <code>c</code> or `d"


@pytest.mark.parametrize(
    ("middle", "best", "worst", "shown"),
    [
        (24.06, 21, 28.5, "clear from 24.1 mm (21 to 28.5)"),
        (24, 21, math.inf, "clear from 24 mm (21 at best, nowhere at worst)"),
        (math.inf, 21, math.inf, "clear at no focal length; from 21 mm at best"),
        (math.inf, math.inf, math.inf, "clear at no focal length"),
    ],
)
def test_widest_clear(middle: float, best: float, worst: float, shown: str) -> None:
    assert widest_clear(middle, best, worst) == shown
