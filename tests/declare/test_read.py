from __future__ import annotations

import os
from pathlib import Path

import pytest

from audit.declare import find_kit, load
from audit.errors import DeclarationError

BARE = '[[worn]]\nfiles = ["{}"]\nbare = true\n'


def write(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def errors(call: object) -> list[str]:
    with pytest.raises(DeclarationError) as caught:
        call()  # type: ignore[operator]
    assert str(caught.value) == "\n".join(map(str, caught.value.mistakes))
    return [str(m) for m in caught.value.mistakes]


def test_no_kit_is_an_empty_kit() -> None:
    kit = load(None).kit
    assert kit.bodies == () and kit.filters == ()


def test_kit_is_looked_for_inside_beside_and_in_the_configuration(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dump = tmp_path / "trip" / "dump"
    dump.mkdir(parents=True)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    assert find_kit(dump) is None
    user = write(tmp_path / "config" / "cornerstop" / "kit.toml", "")
    assert find_kit(dump) == user
    beside = write(dump.parent / "kit.toml", "")
    assert find_kit(dump) == beside
    inside = write(dump / "kit.toml", "")
    assert find_kit(dump) == inside


def test_configuration_defaults_to_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    user = write(tmp_path / "home" / ".config" / "cornerstop" / "kit.toml", "")
    (tmp_path / "dump").mkdir()
    assert find_kit(tmp_path / "dump") == user


def test_mistakes_of_all_files_come_together(tmp_path: Path) -> None:
    write(tmp_path / "kit.toml", '[[filter]]\nid = "n10"\nkind = "neutrl"\nstops = 10\n')
    write(tmp_path / "filters.toml", '[[worn]]\nfiles = ["X_0001"]\nbear = true\n')
    write(tmp_path / "day1" / "filters.toml", "inherit = 1\n[[worn]\n")
    write(
        tmp_path / "day2" / "filters.toml",
        'inherit = 1\n[[worn]]\nfiles = ["X_0001"]\nslots = ["n10", "n6"]\n',
    )
    assert errors(lambda: load(tmp_path)) == [
        'kit.toml:3: filter.kind: "neutrl" is unknown; did you mean "neutral"?',
        'filters.toml:3: worn.bear: unknown key; did you mean "bare"?',
        "day1/filters.toml:2: is not valid TOML at column 7: "
        "expected ']]' at the end of an array declaration",
        "day2/filters.toml:1: inherit: should be true or false, not 1",
        'day2/filters.toml:4: worn.slots: "n6" is not a filter of the kit; it has n10',
        "day2/filters.toml:4: worn.slots: needs a holder; name it with holder = ..., or give the lens "
        "a rig in the kit",
    ]


def test_a_broken_kit_table_is_told_once_not_at_every_use(tmp_path: Path) -> None:
    write(
        tmp_path / "kit.toml",
        '[[filter]]\nid = "n10"\nkind = "neutral"\n\n[[ring]]\nid = "r77"\nthread_mm = 77\n\n'
        '[[holder]]\nid = "main"\nslots = 2\n',
    )
    write(
        tmp_path / "filters.toml", '[[worn]]\nfiles = ["a"]\nring = "r77"\nholder = "main"\nslots = ["n10"]\n'
    )
    assert errors(lambda: load(tmp_path)) == [
        "kit.toml:1: filter.stops: is missing; write one of stops, density or factor"
    ]


def test_not_utf8_and_not_there(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    path.write_bytes(b'place = "Skarven"\n# Gr\xf6nland\n')
    assert errors(lambda: load(tmp_path)) == ["kit.toml:2: is not UTF-8 text; save the file as UTF-8"]
    missing = tmp_path / "other.toml"
    assert errors(lambda: load(None, missing)) == [
        f"{missing}:0: cannot be read (No such file or directory); check the name and the rights"
    ]


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    path.write_bytes(b'\xef\xbb\xbfplace = "Skarven"\n')
    assert load(None, path).kit.place == "Skarven"


def test_mirror_stands_for_folders_of_the_dump(tmp_path: Path) -> None:
    dump, mirror = tmp_path / "dump", tmp_path / "mirror"
    write(dump / "day1" / "filters.toml", BARE.format("old"))
    write(dump / "day2" / "filters.toml", BARE.format("kept"))
    write(mirror / "day1" / "filters.toml", BARE.format("new"))
    found = {d.folder: d.worn[0].files for d in load(dump, mirror=mirror).declarations}
    assert found == {"day1": ("new",), "day2": ("kept",)}


def test_mirror_of_no_folder_is_a_warning(tmp_path: Path) -> None:
    dump, mirror = tmp_path / "dump", tmp_path / "mirror"
    dump.mkdir()
    write(mirror / "dya1" / "filters.toml", BARE.format("x"))
    assert [str(m) for m in load(dump, mirror=mirror).warnings] == [
        "dya1/filters.toml:1: the dump has no such folder, so it covers nothing; "
        "is the mirror tree named alike?"
    ]


def test_folders_to_skip_are_not_read(tmp_path: Path) -> None:
    write(tmp_path / "out" / "filters.toml", "not toml")
    write(tmp_path / "day1" / "filters.toml", BARE.format("x"))
    assert [d.folder for d in load(tmp_path, skip=[tmp_path / "out"]).declarations] == ["day1"]


def test_lines_of_spans_and_items(tmp_path: Path) -> None:
    write(tmp_path / "filters.toml", '[[worn]]\nfiles = [\n  "a",\n  "b",\n]\nbare = true\n')
    (declaration,) = load(tmp_path).declarations
    assert [declaration.line(0, key) for key in ("", "files", "files.1", "bare", "ring")] == [1, 2, 4, 6, 1]


def test_a_folder_name_that_is_not_utf8_matches_the_frame_table(tmp_path: Path) -> None:
    folder = os.fsencode(tmp_path) + b"/gr\xf6n"
    Path(os.fsdecode(folder)).mkdir()
    write(Path(os.fsdecode(folder)) / "filters.toml", BARE.format("x"))
    assert [d.folder for d in load(tmp_path).declarations] == ["gr\\xf6n"]


def test_links_to_folders_are_not_followed(tmp_path: Path) -> None:
    write(tmp_path / "elsewhere" / "filters.toml", BARE.format("x"))
    (tmp_path / "dump").mkdir()
    (tmp_path / "dump" / "link").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    assert load(tmp_path / "dump").declarations == []


def test_characters_that_act_on_a_terminal_are_escaped(tmp_path: Path) -> None:
    write(tmp_path / "kit.toml", '[[filter]]\nid = "n"\nkind = "\\u001b[2Jred"\nstops = 1\n')
    (line,) = errors(lambda: load(tmp_path))
    assert line.isprintable() and line.startswith('kit.toml:3: filter.kind: "\\x1b[2Jred" is unknown')
