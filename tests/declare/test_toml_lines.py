from __future__ import annotations

import tomllib

import pytest

from audit.toml.lines import line_of, toml_lines

TRICKY = '''# [[worn]] in a comment
inherit = true
[[worn]]
files = ["a", # "x
  "b]",
]
note = """
[[worn]]
ring = "x" \\""" "
"""
"qu.oted" . 'b c' = 1
[[worn]]
'lit' = '[[worn]]'
times = [2026-05-02T05:10:00, 2026-05-02 05:40:00]
in = {a = 1, b.c = [ {d = 2},
 {d=3}]}
[worn.sub]
z = \'\'\'x
\'\'\'\'\'
[[worn.deep]]
k=1
[[worn]]
[[worn.deep]]
"\\u006b"=2
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("inherit",), 2),
        (("worn", 0), 3),
        (("worn", 0, "files"), 4),
        (("worn", 0, "files", 1), 5),
        (("worn", 0, "note"), 7),
        (("worn", 0, "qu.oted", "b c"), 11),
        (("worn", 1), 12),
        (("worn", 1, "lit"), 13),
        (("worn", 1, "in", "b", "c", 1, "d"), 16),
        (("worn", 1, "sub", "z"), 18),
        (("worn", 1, "deep", 0, "k"), 21),
        (("worn", 2), 22),
        (("worn", 2, "deep", 0, "k"), 24),
    ],
)
def test_lines_of_a_tricky_text(path: tuple[str | int, ...], line: int) -> None:
    tomllib.loads(TRICKY)
    assert toml_lines(TRICKY)[path] == line


def test_windows_line_ends_count_once() -> None:
    assert toml_lines("a = 1\r\n\r\n[[worn]]\r\nb = 2\r\n")[("worn", 0, "b")] == 4


def test_every_path_of_the_data_has_a_line() -> None:
    found = toml_lines(TRICKY)

    def walk(value: object, path: tuple[str | int, ...]) -> None:
        if path:
            assert path in found
        pairs = (
            value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        )
        for key, inner in pairs:
            walk(inner, (*path, key))

    walk(tomllib.loads(TRICKY), ())


def test_a_missing_key_stands_at_the_thing_around_it() -> None:
    lines = toml_lines("\n[[worn]]\na = 1\n")
    assert line_of(lines, ("worn", 0, "missing")) == 2
    assert line_of(lines, ("nothing",)) == 1
