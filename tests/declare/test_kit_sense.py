"""Wrong kits as people write them, each told with advice that works; right ones, however unusual, pass.

fixtures/kits/wrong holds the slips: the kit, the lines that must come out (notes where there is no
mistake), and the change that they advise.
fixtures/kits/right holds what nothing may be said of.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audit.kit.read import KitRead, read_kit
from audit.message.text import made_of
from audit.report.language import Language

KITS = Path(__file__).parents[2] / "fixtures" / "kits"
GERMAN = Language("de")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def kits(folder: str, table: str) -> list[Any]:
    found = []
    for path in sorted((KITS / folder).glob("*.toml")):
        for case in tomllib.loads(path.read_text(encoding="utf-8"))[table]:
            found.append(pytest.param(case, id=f"{path.stem}: {case['what']}"))
    return found


WRONG, RIGHT = kits("wrong", "slip"), kits("right", "kit")


def checked(text: str, folder: Path) -> KitRead:
    path = folder / "kit.toml"
    path.write_text(text, encoding="utf-8")
    return read_kit(path, "kit.toml")


def mended(case: dict[str, Any]) -> str:
    text: str = case["kit"]
    for old, new in case["change"]:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def test_there_are_enough_of_both() -> None:
    assert len(WRONG) >= 60
    assert len(RIGHT) >= 30


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_kit_is_told_as_written_here(case: dict[str, Any], tmp_path: Path) -> None:
    assert case["says"], "the fixture must hold the lines it expects"
    read = checked(case["kit"], tmp_path)
    assert [str(m) for m in read.mistakes or read.notes] == case["says"]


@pytest.mark.parametrize("case", WRONG)
def test_the_advice_followed_is_accepted(case: dict[str, Any], tmp_path: Path) -> None:
    before, after = checked(case["kit"], tmp_path), checked(mended(case), tmp_path)
    assert [str(m) for m in after.mistakes] == []
    assert before.mistakes or len(after.notes) < len(before.notes)


def advised(case: dict[str, Any]) -> Iterator[tuple[str, list[float]]]:
    """Key and numbers of each change that is to be typed."""
    for _, new in case["change"]:
        key, _, value = new.partition(" = ")
        if value and key.isidentifier() and "\n" not in new:
            yield key, [float(n) for n in NUMBER.findall(value.partition("#")[0])]


@pytest.mark.parametrize("case", WRONG)
def test_the_change_is_what_the_line_advises(case: dict[str, Any], tmp_path: Path) -> None:
    told = " ".join(str(m) for m in checked(case["kit"], tmp_path).mistakes)
    for key, numbers in advised(case):
        said = [[float(n) for n in NUMBER.findall(m)] for m in re.findall(rf"{key} = (\[[^]]*\]|\S+)", told)]
        assert not said or numbers in said, (told, key, numbers)


@pytest.mark.parametrize("case", WRONG)
def test_it_can_be_told_in_german(case: dict[str, Any], tmp_path: Path) -> None:
    for mistake in checked(case["kit"], tmp_path).mistakes:
        assert made_of(mistake.text) or GERMAN.tell(mistake.text) != mistake.text, mistake.text


@pytest.mark.parametrize("case", RIGHT)
def test_a_right_kit_passes_without_a_word(case: dict[str, Any], tmp_path: Path) -> None:
    """Without a mistake, and without a note but for those that the fixture holds."""
    read = checked(case["kit"], tmp_path)
    assert [str(m) for m in read.mistakes] == []
    assert [str(m) for m in read.notes] == case.get("notes", [])
