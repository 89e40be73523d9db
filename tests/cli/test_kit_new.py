"""`cornerstop kit new`: a kit from pictures that is accepted, whatever they say, and costs nobody a line."""

import re
import shutil
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.cli.entry import run
from audit.declare import build_rig
from audit.declare.kit_text import bodies_text, examples, kit_text
from audit.declare.worn import Worn
from audit.kit.found import found_gear
from audit.kit.kit import Kit
from audit.kit.read import kit_from
from audit.toml.file import parse_toml
from audit.toml.insert import with_tables
from audit.toml.quote import quoted

PHOTOS = Path(__file__).parents[3] / "shared" / "photos"


@pytest.fixture
def trip(demo, tmp_path, away):
    """The pictures of the demo trip without its kit and declarations."""
    target = tmp_path / "trips" / "trip"
    shutil.copytree(demo / "trip", target, ignore=shutil.ignore_patterns("*.toml"))
    return target


def uncommented(text):
    """Each line without its first mark, as a photographer takes it off; words keep one of their two."""
    return "\n".join(line.removeprefix("# ") if line.startswith("# ") else line for line in text.split("\n"))


def sound(text):
    read = kit_from(*parse_toml(text, "kit.toml"))
    assert read.mistakes == ()
    return read.kit


def test_the_demo_trip_gives_a_kit_that_is_accepted_and_says_what_is_missing(trip, capsys):
    assert run(["kit", "new", str(trip)]) == 0
    out = capsys.readouterr().out
    target = trip.parent / "kit.toml"
    assert str(target) in out and "still to fill in: thread_mm of lens" in out
    assert f"cornerstop kit check {target}" in out and f"cornerstop draft {trip}" in out
    kit = sound(target.read_text(encoding="utf-8"))
    assert [(body.name, body.model, body.serial) for body in kit.bodies] == [
        ("A", "Brattholm Tarn", None),
        ("B", "Brattholm Beck", None),
    ]
    assert [(lens.exif, lens.focal_mm, lens.thread_mm) for lens in kit.lenses] == [
        (("Sund 16-35 mm f4",), (16.0, 35.0), None),
        (("Sund 24-70 mm f2.8",), (24.0, 70.0), None),
    ]
    assert run(["kit", "check", str(trip)]) == 0
    out = capsys.readouterr().out
    assert "no mistakes" in out and out.count("still to fill in: ") == 4
    assert "used from 16 (its widest) to 28 mm" in target.read_text(encoding="utf-8")


def test_every_example_is_accepted_when_its_mark_is_taken_off(trip, capsys):
    run(["kit", "new", str(trip)])
    target = trip.parent / "kit.toml"
    target.write_text(uncommented(target.read_text(encoding="utf-8")), encoding="utf-8")
    kit = sound(target.read_text(encoding="utf-8"))
    assert len(kit.lenses) == 3 and kit.lenses[2].no_contacts
    assert (len(kit.rings), len(kit.step_rings), len(kit.holders), len(kit.filters)) == (1, 1, 1, 3)
    capsys.readouterr()
    assert run(["kit", "check", str(target)]) == 0
    assert "still to fill in" not in capsys.readouterr().out


def test_the_examples_are_the_defaults():
    """A kit that leaves every example dimension out has the same rig: what the words say is assumed, is."""
    text = uncommented("\n\n".join(examples()))
    given_kit = sound(text)
    optional = re.compile(r"^(bore|height|base|clear_width|slot_pitch|front_ring_thickness|thickness)_mm")
    bare_kit = sound("\n".join(line for line in text.split("\n") if not optional.match(line)))
    worn = Worn(behind=("s72-77",), ring="r77", holder="main", slots=("n6", "g2soft"), front="pol")
    one, other = build_rig(worn, given_kit), build_rig(worn, bare_kit)
    size = [(o.diameter_mm, o.distance_mm, o.glass_mm) for o in one.openings]
    assert size == [(o.diameter_mm, o.distance_mm, o.glass_mm) for o in other.openings]
    assert not any(o.assumed for o in one.openings) and all(o.assumed for o in other.openings)


def test_a_kit_is_never_overwritten(trip, capsys):
    target = trip.parent / "kit.toml"
    target.write_text("# mine\n", encoding="utf-8")
    assert run(["kit", "new", str(trip)]) == 2
    assert capsys.readouterr().err.rstrip().endswith(f"cornerstop kit new {trip} --add")
    assert run(["kit", "new", str(trip), "--out", str(target)]) == 2
    assert f"cornerstop kit new {trip} --add --out {target}" in capsys.readouterr().err
    assert target.read_text(encoding="utf-8") == "# mine\n"
    link = trip.parent / "link.toml"
    link.symlink_to(trip.parent / "nowhere.toml")
    assert run(["kit", "new", str(trip), "--out", str(link)]) == 2
    assert not (trip.parent / "nowhere.toml").exists()


def test_refusals_end_with_what_mends_them(trip, tmp_path, capsys):
    (tmp_path / "empty").mkdir()
    for words, mend in (
        (["kit", "new", str(tmp_path / "empty")], "cornerstop kit new FOLDER"),
        (["kit", "new", str(trip), "--add"], f"cornerstop kit new {trip}"),
        (["kit", "new", str(trip), "--write"], f"cornerstop kit new {trip}"),
        (["kit", "new", str(trip), "--out", str(tmp_path)], f"--out {tmp_path}/kit.toml"),
    ):
        assert run(words) == 2
        assert capsys.readouterr().err.rstrip().endswith(mend)


def test_add_shows_a_diff_and_writes_when_asked(trip, capsys):
    target = trip.parent / "kit.toml"
    mine = (
        "# my bag\r\n[[body]]\r\nname = 'one' # the good one\r\nmodel = 'Brattholm Tarn'\r\n\r\n"
        "[[lens]]\r\nid = 'w'\r\nexif = ['sund  16-35 MM f4']\r\nfocal_mm = [\r\n  16,\r\n  35,\r\n]\r\n"
        "# thread to look up\r\n\r\n# glass\r\n[[filter]]\r\nid = 'n6'\r\nkind = 'neutral'\r\nstops = 6\r\n"
    )
    target.write_bytes(mine.encode())
    assert run(["kit", "new", str(trip), "--add"]) == 0
    out = capsys.readouterr().out
    assert '+model = "Brattholm Beck"' in out and '+exif = ["Sund 24-70 mm f2.8"]' in out
    assert "Tarn" not in "".join(line for line in out.splitlines(True) if line.startswith("+m"))
    assert out.rstrip().endswith(f"cornerstop kit new {trip} --add --write")
    assert target.read_bytes() == mine.encode()
    assert run(["kit", "new", str(trip), "--add", "--write"]) == 0
    after = target.read_bytes().decode()
    assert (trip.parent / "kit.toml.bak").read_bytes() == mine.encode()
    assert after.count("\r\n") == after.count("\n")
    rest = after.splitlines()
    assert [line for line in mine.splitlines() if line not in rest] == []
    assert [one["id"] for one in tomllib.loads(after)["lens"]] == ["w", "24-70"]
    assert after.index("# thread to look up") < after.index('"24-70"') < after.index("# glass")
    assert [body.name for body in sound(after).bodies] == ["one", "A"]
    capsys.readouterr()
    assert run(["kit", "new", str(trip), "--add", "--write"]) == 0
    assert "nothing to add" in capsys.readouterr().out
    assert not (trip.parent / "kit.toml.bak1").exists()


def test_a_list_in_brackets_is_refused_with_what_to_write(trip, capsys):
    target = trip.parent / "kit.toml"
    target.write_text("lens = [{id = 'w', focal_mm = 7}]\n", encoding="utf-8")
    assert run(["kit", "new", str(trip), "--add"]) == 2
    assert "[[lens]]" in capsys.readouterr().err


def test_two_bodies_alike_get_their_serial_numbers(table):
    rows = [
        {"model": "Tarn", "body_serial": "1"},
        {"model": "Tarn", "body_serial": "2"},
        {"model": "tarn ", "body_serial": None, "folder": "elsewhere"},
        {"model": "Beck", "body_serial": "3"},
    ]
    gear = found_gear(table(rows), Kit())
    assert [(one.model, one.serial) for one in gear.bodies] == [("Tarn", "1"), ("Tarn", "2"), ("Beck", None)]
    assert [body.serial for body in sound(kit_text(gear, "x", 4)).bodies] == ["1", "2", None]


def test_a_twin_of_a_body_without_a_serial_is_told_not_added(table):
    kit = Kit.model_validate({"body": [{"name": "A", "model": "Tarn"}]})
    gear = found_gear(table([{"model": "Tarn", "body_serial": n} for n in "12"]), kit)
    assert (gear.bodies, gear.twins) == ((), ("Tarn",))


def test_a_lens_without_contacts_is_seen_as_such(table):
    nothing = {"lens": None, "focal_length_mm": None, "f_number": None}
    text = kit_text(found_gear(table([nothing, {}]), Kit()), "x", 2)
    assert "a lens without contacts" in " ".join(text.split("\n## "))
    assert sound(uncommented(text)).lenses[-1].no_contacts


@given(st.text())
def test_any_text_reads_back_equal(words):
    try:
        written = quoted(words)
    except ValueError:
        assert any("\ud800" <= c <= "\udfff" for c in words)
        return
    assert tomllib.loads(f"x = {written}") == {"x": words}


HOSTILE = [
    '"""',
    "a\nb = 1\n[[x]]",
    "\x00\x07\x1b[31m",
    "x" * 10_000,
    "'\\u0041",
    "# \u2028]",
    "\U0001f4f7",
    " ",
]


@pytest.mark.parametrize("words", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_words_make_a_sound_kit(table, words):
    _hostile(table, words)


@given(st.text(st.characters(codec="utf-8"), max_size=30))
def test_any_words_make_a_sound_kit(table, words):
    _hostile(table, words)


def _hostile(table, words):
    rows = [{"model": words, "lens": words, "body_serial": words}, {"model": "Tarn", "lens": words}]
    rows.append({"model": words, "lens": None, "body_serial": "2"})
    frames = table(rows)
    gear = found_gear(frames, Kit())
    text = kit_text(gear, words, 3)
    kit = sound(text)
    sound(uncommented(text))
    assert all(len(line) < 140 for line in text.splitlines() if line.startswith("#") and "=" not in line)
    name = " ".join(words.split())
    if name and name.isprintable():
        assert (name,) in [lens.exif for lens in kit.lenses]
        assert name in [body.model for body in kit.bodies]
    assert found_gear(frames, kit).lenses == ()


def test_tables_go_behind_the_last_of_their_kind():
    text = "[[body]]\nname='a'\n# its own\n[[lens]]\nid='x'\n"
    block = "[[body]]\nname='b'"
    assert with_tables(text, "body", block) == (
        "[[body]]\nname='a'\n\n[[body]]\nname='b'\n# its own\n[[lens]]\nid='x'\n"
    )
    assert with_tables("", "body", block) == "[[body]]\nname='b'\n"
    assert bodies_text(()) == []


def test_real_photographs(tmp_path, away, capsys):
    if not PHOTOS.is_dir():
        pytest.skip("no photographs beside the project (../shared/photos)")
    target = tmp_path / "kit.toml"
    assert run(["kit", "new", str(PHOTOS), "--out", str(target)]) == 0
    text = target.read_text(encoding="utf-8")
    kit = sound(text)
    sound(uncommented(text))
    assert len(kit.bodies) > 30 and any(
        lens.exif == ("iPhone XR back camera 4.25mm f/1.8",) for lens in kit.lenses
    )
    capsys.readouterr()
    assert run(["kit", "check", str(target)]) == 0
    assert run(["kit", "new", str(PHOTOS), "--add", "--out", str(target)]) == 0
    assert "nothing to add" in capsys.readouterr().out
