"""Kit and declaration texts that nobody wrote by hand end soon, in a few clear lines."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.errors import LINES_TOLD, Mistake, grouped
from audit.kit.read import MOST_PARTS, read_kit
from audit.toml.file import read_toml
from audit.toml.wording import MOST_FAULTS


def kit(folder: Path, text: str) -> list[str]:
    path = folder / "kit.toml"
    path.write_text(text, encoding="utf-8")
    return [str(mistake) for mistake in read_kit(path, "kit.toml").mistakes]


def test_a_number_of_many_digits_is_one_mistake_at_its_line(tmp_path: Path) -> None:
    said = kit(tmp_path, '[[ring]]\nid = "r"\nthread_mm = ' + "9" * 10_000 + "\n")
    assert said == ["kit.toml:3: holds a number of thousands of digits"]


def test_more_parts_than_anybody_carries_are_one_mistake(tmp_path: Path) -> None:
    one = '[[filter]]\nid = "f{}"\nkind = "neutral"\nstops = 3\n'
    (said,) = kit(tmp_path, "".join(one.format(n) for n in range(MOST_PARTS + 1)))
    assert "is it the right file?" in said


def test_of_many_unknown_keys_the_first_and_the_number_are_told(tmp_path: Path) -> None:
    keys = "".join(f"key{n} = 1\n" for n in range(5000))
    said = kit(tmp_path, '[[ring]]\nid = "r"\nthread_mm = 77\n' + keys)
    assert len(said) == MOST_FAULTS + 1
    assert any(f"{5000 - MOST_FAULTS} more mistakes" in line for line in said)


@pytest.mark.parametrize(
    "text", ["x = " + "[" * 10_000 + "]" * 10_000, "x = " + "{a=" * 5_000 + "1" + "}" * 5_000]
)
def test_deep_nesting_is_one_mistake(tmp_path: Path, text: str) -> None:
    (said,) = kit(tmp_path, text)
    assert said == "kit.toml:1: is nested too deeply to be a kit or declaration"


def test_the_lines_of_many_tables_are_found_in_one_pass(tmp_path: Path) -> None:
    path = tmp_path / "filters.toml"
    path.write_text(
        "".join(f'[[worn]]\nfiles = ["N{n}"]\nbare = true\n' for n in range(30_000)), encoding="utf-8"
    )
    file, mistakes = read_toml(path, "filters.toml")
    assert not mistakes
    for n in (0, 1, 29_999):
        assert file.table_lines("worn", n) == {
            "": 3 * n + 1,
            "files": 3 * n + 2,
            "bare": 3 * n + 3,
            "files.0": 3 * n + 2,
        }


def test_of_many_mistakes_a_hundred_lines_and_the_number_are_told() -> None:
    lines = grouped(Mistake("filters.toml", n, "worn.files", f"no frame {n}") for n in range(250))
    assert len(lines) == LINES_TOLD + 1
    assert lines[-1] == "and 150 more lines like these; mend these first"
