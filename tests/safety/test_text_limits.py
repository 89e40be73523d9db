"""Kit and declaration texts that nobody wrote by hand end soon, in a few clear lines."""

from __future__ import annotations

import time
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declare.read import read_declarations
from audit.errors import LINES_TOLD, AuditError, Mistake, grouped
from audit.kit.kit import Kit
from audit.kit.read import MOST_PARTS, KitRead, kit_from, read_kit
from audit.toml.file import parse_toml, read_toml
from audit.toml.text_file import read_text
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


K = "k" * 1_000_000
LONG = {
    "a key": f"{K} = 1\n",
    "a table": f"[[{K}]]\na = 1\n",
    "a key of a table": f'[[ring]]\nid = "r"\nthread_mm = 77\n{K} = 1\n',
    "an id, twice": f'[[ring]]\nid = "{K}"\nthread_mm = 77\n' * 2,
    "a text of words": f'[[ring]]\nid = "{"k " * 500_000}k"\nthread_mm = 77\n' * 2,
    "a value": f'[[ring]]\nid = "r"\nthread_mm = "{K}"\n',
    "no end of a text": f'x = "{K}\n',
}


@pytest.mark.parametrize("text", LONG.values(), ids=LONG.keys())
def test_what_is_too_long_to_be_read_is_cut(tmp_path: Path, text: str) -> None:
    (said,) = kit(tmp_path, text)
    assert len(said) < 1_100


DEEP = {
    "dotted": "a." * 200_000 + "b = 1",
    "header": "[" + "a." * 200_000 + "a]\nb = 1",
    "quoted": "\"a b\" . 'c' . " * 100_000 + "b = 1",
    "within": "x = { " + "a." * 200_000 + "b = 1 }",
}


@pytest.mark.parametrize("text", DEEP.values(), ids=DEEP.keys())
def test_a_key_of_many_parts_is_one_mistake_and_soon(tmp_path: Path, text: str) -> None:
    began_s = time.process_time()
    (said,) = kit(tmp_path, "y = 1\n" + text)
    assert said == "kit.toml:2: is nested too deeply to be a kit or declaration"
    assert time.process_time() - began_s < 3


def test_a_file_of_another_kind_is_not_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    assert [str(m) for m in read_kit(path, "kit.toml").mistakes] == [
        "kit.toml:1: is larger than 5 MB; is it the right file?"
    ]
    with pytest.raises(AuditError, match="is larger than 5 MB"):
        read_text(path)


WORDS = ("[[ring]]", "[[lens]]", "[[worn]]", "[[rig]]", "[[filter]]", "id", "files", "times", "slots", "=")
SIGNS = ('"a"', "'", '"""', "[", "]", "{", "}", ",", "\n", "\r", "\0", "#", ".", "\\u202e")
VALUES = ("77", "-1e999", "nan", "2026-05-02T05:10:00", "é")
PIECES = st.lists(st.sampled_from((*WORDS, *SIGNS, *VALUES)) | st.text(max_size=3))


@given(PIECES)
def test_any_text_is_a_kit_or_says_why_not(pieces: list[str]) -> None:
    file, mistakes = parse_toml(" ".join(pieces), "kit.toml")
    read = kit_from(file, list(mistakes))
    assert all(len(line) < 1_300 and line.isprintable() for line in grouped(read.mistakes))


@settings(max_examples=60)
@given(PIECES, st.booleans())
def test_any_text_is_a_declaration_or_says_why_not(pieces: list[str], whole: bool) -> None:
    with TemporaryDirectory() as folder:
        text = " ".join(pieces).encode("utf-8", "surrogatepass")
        head = b'[[worn]]\nfiles = ["a"]\nbare = true\n' * whole
        (Path(folder) / "filters.toml").write_bytes(head + text)
        _, mistakes = read_declarations(Path(folder), None, KitRead(Kit()))
    assert all(len(line) < 1_300 and line.isprintable() for line in grouped(mistakes))


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
