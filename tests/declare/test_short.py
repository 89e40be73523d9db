"""Short declarations: rigs by name, lines of frames, a whole folder; they say what the long ones say."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from audit.declare import add_gear, join, load
from audit.errors import DeclarationError, grouped
from audit.kit.kit import Kit

KIT = """
[[lens]]
id = "w16"
exif = ["Sund 16-35 mm f4"]
thread_mm = 77
focal_mm = [16, 35]

[[lens]]
id = "t70"
exif = ["Sund 70-200 mm f4"]
thread_mm = 72
focal_mm = [70, 200]
{of_lens}
[[ring]]
id = "r77"
thread_mm = 77

[[step_ring]]
id = "s72-77"
from_mm = 72
to_mm = 77

[[screw_in]]
id = "protect72"
thread_mm = 72

[[holder]]
id = "main"
slots = 2
front_ring_mm = 98

[[filter]]
id = "n6"
kind = "neutral"
stops = 6
gasket = true

[[filter]]
id = "g2"
kind = "grad-soft"
stops = 2

[[filter]]
id = "pol"
kind = "polariser"
round = true
"""
RIGS = """
[[rig]]
id = "usual"
ring = "r77"
holder = "main"

[[rig]]
id = "usual"
lens = "t70"
behind = ["s72-77"]
ring = "r77"
holder = "main"
"""
LOW = '\n[[ring]]\nid = "r77low"\nthread_mm = 77\nkind = "recessed"\n'
SMALL = '\n[[holder]]\nid = "small"\nslots = 2\n'


@pytest.fixture
def table(scanned: Any, run: Any) -> pd.DataFrame:
    """0101 to 0106 with the wide lens, 0107 to 0110 with the long one."""
    wide = run("d", 101, 106, "2026-05-02 10:00")
    return scanned([*wide, *run("d", 107, 110, "2026-05-02 10:10", lens="Sund 70-200 mm f4")])


def told(table: pd.DataFrame, folder: Path, text: str, more: str = RIGS, of_lens: str = "", **kw: Any) -> Any:
    (folder / "d").mkdir(exist_ok=True)
    (folder / "kit.toml").write_text(KIT.format(of_lens=of_lens) + more)
    (folder / "d" / "filters.toml").write_text(text)
    loaded = load(folder, folder / "kit.toml", strict=False, **kw)
    made = join(add_gear(table, loaded.kit), loaded.kit, loaded.declarations)
    return made, [str(m) for m in sorted({*loaded.warnings, *made.mistakes})]


LONG = """
[[worn]]
files = ["TARN0101", "TARN0103"]
ring = "r77"
holder = "main"
slots = ["n6", "g2"]

[[worn]]
files = ["TARN0104"]
bare = true

[[worn]]
files = ["TARN0105"]
neutral = "none"

[[worn]]
files = ["TARN0106"]
ring = "r77"
holder = "main"
slots = ["n6"]
front = "pol"

[[worn]]
files = ["TARN0107", "TARN0109"]
behind = ["s72-77"]
ring = "r77"
holder = "main"
slots = ["n6"]

[[worn]]
files = ["TARN0110"]
behind = ["protect72", "s72-77"]
ring = "r77"
holder = "main"
slots = ["g2"]
"""
SHORT = """
[frames]
"TARN0101..TARN0103" = "g2+n6"
"TARN0104" = "bare"
"TARN0105" = "none"
"TARN0106" = "n6+pol"
"TARN0107..TARN0109" = "n6"
"TARN0110" = "g2+protect72"
"""


@pytest.mark.parametrize(
    ("more", "of_lens"), [(RIGS, ""), ("", ""), (RIGS + RIGS.replace("usual", "low"), 'rig = "usual"')]
)
def test_short_and_long_say_the_same(table: pd.DataFrame, tmp_path: Path, more: str, of_lens: str) -> None:
    long, wrong = told(table, tmp_path, LONG, more, of_lens)
    assert not wrong
    short = SHORT
    if of_lens:  # the long lens names its rig; the lines of the wide one do
        short = short.replace('g2+n6"', 'g2+n6 on usual"').replace('n6+pol"', 'n6+pol on usual"')
    brief, wrong = told(table, tmp_path, short, more, of_lens)
    assert not wrong
    place = ["declared_in"]
    pd.testing.assert_frame_equal(long.frames.drop(columns=place), brief.frames.drop(columns=place))
    assert long.rigs == brief.rigs


def test_one_span_for_both_lenses_wears_what_each_needs(table: pd.DataFrame, tmp_path: Path) -> None:
    made, wrong = told(table, tmp_path, '[[worn]]\nslots = ["n6"]\n')
    assert not wrong
    assert set(made.frames["declaration"]) == {"worn"}
    behind = [made.rigs[key].behind for key in made.frames["rig"]]
    assert behind == [()] * 6 + [("s72-77",)] * 4


def test_only_what_changed_is_written(table: pd.DataFrame, tmp_path: Path) -> None:
    text = '[[worn]]\nfiles = ["TARN0101", "TARN0102"]\nring = "r77low"\nslots = ["n6"]\n'
    text += '[[worn]]\nfiles = ["TARN0107"]\nbehind = ["protect72"]\nslots = ["n6"]\n'
    text += '[[worn]]\nfiles = ["TARN0108"]\nrig = "usual"\n'
    made, wrong = told(table, tmp_path, text, RIGS + LOW)
    assert not wrong
    rigs = [made.rigs[made.frames["rig"][row]] for row in (0, 6, 7)]
    assert [(r.behind, r.ring, r.holder, r.slots) for r in rigs] == [
        ((), "r77low", "main", ("n6",)),
        (("protect72", "s72-77"), "r77", "main", ("n6",)),
        (("s72-77",), "r77", "main", ()),
    ]


def test_a_ring_alone_is_a_ring_alone(table: pd.DataFrame, tmp_path: Path) -> None:
    """What old files say does not change with a rig in the kit."""
    made, _ = told(table, tmp_path, '[[worn]]\nfiles = ["TARN0101"]\nring = "r77"\n')
    assert made.rigs[made.frames["rig"][0]].holder == ""


@pytest.mark.parametrize(
    ("text", "more", "says"),
    [
        (
            '[frames]\n"TARN0101" = "n6"\n',
            SMALL,
            "d/filters.toml:2: frames: needs a holder, and main or small of the kit would do; write "
            "holder = ..., or give the lens a rig in the kit",
        ),
        (
            '[frames]\n"TARN0101" = "n6"\n',
            LOW,
            "d/filters.toml:2: frames: needs a ring, and r77 or r77low of the kit would do; write "
            "ring = ..., or give the lens a rig in the kit",
        ),
        (
            '[frames]\n"TARN0101..TARN0102" = "n7"\n',
            RIGS,
            'd/filters.toml:2: frames: "n7" is no filter of the kit; write one of n6, g2, pol, protect72, '
            "none, bare, unknown",
        ),
        (
            '[frames]\n"TARN0101..TARN0102..TARN0103" = "n6"\n',
            RIGS,
            'd/filters.toml:2: frames: "TARN0101..TARN0102..TARN0103" is no frame and no "FIRST..LAST"',
        ),
        (
            '[frames]\n"TARN0101" = ["n6"]\n',
            RIGS,
            'd/filters.toml:2: frames: should be what was on, like "n6+g2" or "bare", not [\'n6\']; for more '
            "write a [[worn]]",
        ),
        (
            '[frames]\n"TARN0101" = "n6 on usul"\n',
            RIGS,
            'd/filters.toml:2: frames: "usul" is no rig of the kit; did you mean "usual"?',
        ),
        (
            '[[worn]]\nslots = ["n6"]\n[[worn]]\nfiles = ["TARN0101"]\nbare = true\n',
            RIGS,
            'd/filters.toml:1: worn: covers nothing; write files = ["first", "last"] or times = [from, to]',
        ),
        (
            'frames = "TARN0101"\n',
            RIGS,
            'd/filters.toml:1: frames: is a table; write [frames], and lines like "X..Y" = "n6"',
        ),
    ],
)
def test_refusals(table: pd.DataFrame, tmp_path: Path, text: str, more: str, says: str) -> None:
    made, wrong = told(table, tmp_path, text, more)
    assert wrong == [says]
    reason = made.frames["undeclared_reason"][0]
    assert made.frames["declaration"][0] == (
        "bare" if "bare" in text and "[[worn]]" in text else "undeclared"
    )
    assert reason is None or reason


def test_a_wrong_span_costs_only_its_own_frames(table: pd.DataFrame, tmp_path: Path) -> None:
    text = '[[worn]]\nfiles = ["TARN0101", "TARN0102"]\nbear = true\n'
    text += '[[worn]]\nfiles = ["TARN0103", "TARN0104"]\nslots = ["n6"]\n'
    text += '[[worn]]\nfiles = ["TARN0105"]\nring = "r7"\nholder = "main"\n'
    made, wrong = told(table, tmp_path, text)
    assert len(wrong) == 2
    assert list(made.frames["declaration"][:6]) == ["undeclared"] * 2 + ["worn"] * 2 + ["undeclared"] * 2
    assert made.frames["undeclared_reason"][0] == (
        'd/filters.toml:1 has a mistake: unknown key; did you mean "bare"?'
    )
    assert "d/filters.toml:7 has a mistake" in made.frames["undeclared_reason"][4]


def test_a_file_that_is_no_toml_takes_nothing_from_above(table: pd.DataFrame, tmp_path: Path) -> None:
    (tmp_path / "filters.toml").write_text("[[worn]]\nbare = true\n")
    made, wrong = told(table, tmp_path, "[[worn]\n")
    assert len(wrong) == 1 and set(made.frames["declaration"]) == {"undeclared"}
    assert "d/filters.toml cannot be understood: is not valid TOML" in made.frames["undeclared_reason"][0]


def test_a_rig_must_be_in_the_kit(tmp_path: Path) -> None:
    wrong = (
        RIGS + '[[rig]]\nid = "odd"\nring = "r7"\n[[rig]]\nid = "usual"\nring = "r77"\n[[rig]]\nid = "no"\n'
    )
    (tmp_path / "kit.toml").write_text(KIT.format(of_lens='rig = "usul"') + wrong)
    with pytest.raises(Exception, match="rig") as raised:
        load(None, tmp_path / "kit.toml")
    assert [str(m).split(": ", 1)[1] for m in raised.value.mistakes] == [
        'lens.rig: "usul" is no rig of the kit; did you mean "usual"?',
        'rig.ring: "r7" is no ring of the kit; did you mean "r77"?',
        'rig.id: "usual" is taken by the [[rig]] of line 48; give each its own',
        "rig: carries nothing; write ring = ... and holder = ...",
    ]


def test_a_draft_writes_no_ring_where_the_kit_has_the_lens_rig() -> None:
    from audit.declare.draft_rig import rig_lines

    kit = Kit.model_validate(tomllib.loads(KIT.format(of_lens="") + RIGS))
    assert rig_lines(kit, kit.lens("t70"), ("n6", "pol")).lines == ('slots = ["n6"]', 'front = "pol"')


def test_the_same_mistake_on_many_spans_is_one_line(table: pd.DataFrame, tmp_path: Path) -> None:
    text = "".join(
        f'[[worn]]\nfiles = ["TARN01{n:02}"]\nring = "r7"\nholder = "main"\n' for n in range(1, 11)
    )
    (tmp_path / "d").mkdir()
    (tmp_path / "d" / "filters.toml").write_text(text)
    (tmp_path / "kit.toml").write_text(KIT.format(of_lens=""))
    with pytest.raises(DeclarationError) as raised:
        load(tmp_path)
    assert grouped(raised.value.mistakes) == [
        'd/filters.toml:3: worn.ring: "r7" is not a ring of the kit; did you mean "r77"? (and 9 more of the '
        "same: d/filters.toml:7, d/filters.toml:11, d/filters.toml:15 and 6 more)"
    ]
