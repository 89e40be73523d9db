"""`cornerstop corners` with several bodies, several rigs, and the whole kit."""

import json
import re

import pytest

from audit.cli.entry import run
from audit.corners.question import Question
from audit.corners.several import named_rigs

KIT = """
[[body]]
name = "A"
model = "Brattholm Tarn"
sensor_mm = [36.0, 24.0]
[[body]]
name = "A2"
model = "Brattholm Ness"
sensor_mm = [36.0, 24.0]
[[body]]
name = "B"
model = "Brattholm N2"
sensor_mm = [23.5, 15.6]
[[body]]
name = "C"
model = "Brattholm N3"
[[lens]]
id = "w16"
thread_mm = 77
focal_mm = [16, 35]
pupil_depth_mm = 25.0
pupil_depth_err_mm = 1.0
[[lens]]
id = "n24"
thread_mm = 72
focal_mm = 24
[[lens]]
id = "old50"
thread_mm = 49
focal_mm = 50
[[lens]]
id = "bare85"
focal_mm = 85
[[ring]]
id = "r77"
thread_mm = 77
bore_mm = 74.5
height_mm = 4
[[ring]]
id = "low77"
thread_mm = 77
kind = "recessed"
bore_mm = 74
height_mm = 0.5
[[step_ring]]
id = "s72-77"
from_mm = 72
to_mm = 77
[[screw_in]]
id = "glass77"
thread_mm = 77
[[holder]]
id = "main"
slots = 3
bore_mm = 85
base_mm = 7
clear_width_mm = 90
slot_pitch_mm = 3.2
front_ring_mm = 98
front_ring_thickness_mm = 7.5
[[holder]]
id = "small"
slots = 1
bore_mm = 85
base_mm = 7
clear_width_mm = 90
slot_pitch_mm = 3.2
[[filter]]
id = "pol"
kind = "polariser"
round = true
"""
TWO_RIGS = ["--lens", "w16", "--holder", "main", "--rig", "high=ring=r77,front", "--rig", "low=ring=low77"]
SIX = [word for n in (2.8, 4, 5.6, 8, 11, 16) for word in ("--f-number", str(n))]
AT_20 = ["--focal", "20", "--f-number", "4", "--f-number", "8"]


@pytest.fixture(autouse=True)
def kit(away):
    path = away / "kit.toml"
    path.write_text(KIT, encoding="utf-8")
    return path


@pytest.fixture
def data(capsys):
    def ask(*arguments):
        code = run(["corners", *arguments, "--json"])
        return code, json.loads(capsys.readouterr().out)

    return ask


@pytest.fixture
def said(capsys, monkeypatch):
    def ask(width, *arguments):
        monkeypatch.setenv("COLUMNS", str(width))
        run(["corners", *arguments])
        return capsys.readouterr().out

    return ask


def test_all_bodies_are_answered_where_none_is_named(data, said):
    _, found = data("--lens", "w16", "--holder", "main", "--focal", "20")
    assert [one["bodies"] for one in found["answers"]] == [["A", "A2"], ["B"]]
    assert [one["sensor_mm"] for one in found["answers"]] == [[36.0, 24.0], [23.5, 15.6]]
    assert found["bodies_left_out"] == ["C"]
    text = said(80, "--lens", "w16", "--holder", "main", "--focal", "20")
    assert re.findall(r"^Body +(.*)$", text, re.MULTILINE) == [
        "A, A2; without C, whose sensor_mm the kit does not give",
        "B; without C, whose sensor_mm the kit does not give",
    ]


def test_each_of_several_answers_is_what_it_is_alone(data):
    asked = ["--lens", "w16", "--holder", "main", "--focal", "20"]
    _, both = data(*asked)
    for one in both["answers"]:
        width, height = one["sensor_mm"]
        _, alone = data(*asked, "--sensor", f"{width}x{height}")
        assert {key: one[key] for key in alone} == alone


def test_bodies_are_chosen_by_name(data):
    asked = ["--lens", "w16", "--holder", "main", "--focal", "20"]
    _, found = data(*asked, "--body", "B")
    assert found["sensor_mm"] == [23.5, 15.6]
    _, found = data(*asked, "--body", "B", "--body", "A2", "--body", "B")
    assert [one["bodies"] for one in found["answers"]] == [["B"], ["A2"]]


def test_a_named_body_without_a_size_is_refused(capsys):
    assert run(["corners", "--lens", "w16", "--holder", "main", "--body", "C"]) == 2
    assert 'body "C" no sensor_mm; add it there, or give --sensor instead' in capsys.readouterr().err


def test_a_body_serves_a_lens_in_numbers(data):
    _, found = data("--focal", "20", "--thread", "77", "--slots", "0", "--body", "B")
    assert found["sensor_mm"] == [23.5, 15.6]


def test_rigs_side_by_side_are_what_each_is_alone(data):
    _, both = data(*TWO_RIGS, "--body", "A", *AT_20)
    assert [one["rig_name"] for one in both["answers"]] == ["high", "low"]
    for one, rig in zip(both["answers"], (["--ring", "r77", "--front"], ["--ring", "low77"]), strict=True):
        _, alone = data("--lens", "w16", "--holder", "main", "--body", "A", *AT_20, *rig)
        assert {key: one[key] for key in alone} == alone


def test_one_rig_that_is_named_is_answered_as_one(data, said):
    asked = ["--lens", "w16", "--holder", "main", "--body", "A", "--focal", "18"]
    _, named = data(*asked, "--rig", "high=ring=r77")
    _, alone = data(*asked, "--ring", "r77")
    assert named == alone
    assert said(80, *asked, "--rig", "high=ring=r77") == said(80, *asked, "--ring", "r77")


def test_long_names_do_not_widen_the_table(kit, said):
    long = (
        KIT.replace('"r77"', f'"{"r" * 120}"')
        .replace('"main"', f'"{"m" * 50}"')
        .replace('"n24"', f'"{"n" * 40}"')
    )
    kit.write_text(long, encoding="utf-8")
    assert max(map(len, said(80, "--all", "--body", "A").splitlines())) <= 80


def test_one_cutting_rig_or_sensor_among_several_is_1(data):
    asked = ["--lens", "w16", "--holder", "main", "--focal", "21", "--f-number", "8"]
    rigs = ["--rig", "low=ring=low77", "--rig", "high=ring=r77,front"]
    for more, verdicts in (
        (["--body", "A"], ["clear", "cut"]),
        (["--body", "B"], ["clear", "clear"]),
        ([], ["clear", "cut", "clear", "clear"]),
    ):
        code, found = data(*asked, *rigs, *more)
        assert [one["cases"][0]["verdict"] for one in found["answers"]] == verdicts
        assert (code == 1) == found["cuts"] == ("cut" in verdicts)


def test_the_words_of_a_rig():
    words = ["low = ring=r77, behind=a+b ,slots=2,front", "holder=main,turn_deg=-20", "second_holder=x"]
    found = named_rigs(Question(holder="other", front=False), words)
    assert list(found) == ["low", "rig 2", "rig 3"]
    assert found["low"] == Question(holder="other", ring="r77", behind=("a", "b"), slots=2, front=True)
    assert found["rig 2"] == Question(holder="main", turn_deg=-20.0)
    assert found["rig 3"] == Question(holder="other", second="x")


def test_a_drawing_holds_one_answer(away, capsys):
    assert run(["corners", *TWO_RIGS, "--body", "A", "--svg", "x.svg"]) == 2
    assert "--svg: 2 answers, but it holds one; choose with --body" in capsys.readouterr().err
    assert run(["corners", *TWO_RIGS[:-2], "--body", "A", "--svg", "x.svg", "-q"]) == 1
    assert sorted(p.name for p in away.iterdir()) == ["kit.toml", "x.svg"]


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize(
    "arguments",
    [
        ["--lens", "w16", "--ring", "r77", "--holder", "main", "--front", "--focal", "16", *SIX],
        [*TWO_RIGS, "--rig", "one with a name=second=small,second-turn=30", *AT_20],
        [
            *TWO_RIGS,
            "--rig",
            "second=small",
            "--rig",
            "slots=1",
            "--rig",
            "turn=45",
            "--rig",
            "front",
            *AT_20,
        ],
        ["--all"],
    ],
    ids=["six f-numbers", "three rigs", "six rigs", "whole kit"],
)
def test_no_line_is_longer_than_the_terminal(said, arguments, width):
    text = said(width, *arguments)
    assert max(map(len, text.splitlines())) <= width
    assert not any(line != line.rstrip() for line in text.splitlines())


@pytest.mark.parametrize("width", [80, 120])
def test_six_f_numbers_stand_side_by_side(said, width):
    text = said(
        width, "--lens", "w16", "--ring", "r77", "--holder", "main", "--body", "A", "--focal", "16", *SIX
    )
    assert "f/2.8 f/4 f/5.6 f/8 f/11 f/16" in [" ".join(line.split()) for line in text.splitlines()]
    assert ("black cut" in text.split("clear at")[0]) == (width == 120)


def test_120_columns_are_used_and_more_are_not(said):
    rigs = [word for n in range(5) for word in ("--rig", f"r{n}=slots={n + 1}")]
    for width, names in ((80, "r0 r1 r2"), (120, "r0 r1 r2 r3 r4"), (400, "r0 r1 r2 r3 r4")):
        text = said(width, "--lens", "w16", "--holder", "main", "--body", "A", *AT_20, *rigs)
        assert names in [" ".join(line.split()) for line in text.splitlines()]
        assert max(map(len, text.splitlines())) <= min(width, 120)


def test_the_whole_kit(data, said):
    code, found = data("--all", "--body", "A")
    rows = found["whole_kit"]
    assert code == 1
    rigs = [("main", None, False), ("main", None, True), ("small", None, False), ("main", "small", False)]
    for lens, behind in (("w16", []), ("n24", ["s72-77"])):
        for ring in ("r77", "low77"):
            mine = [row for row in rows if (row["lens"], row["ring"]) == (lens, ring)]
            assert [(row["holder"], row["second"], row["front"]) for row in mine] == rigs
            assert all(row["behind"] == behind for row in mine)
    assert len(rows) == 16
    text = said(80, "--all", "--body", "A")
    assert "lens old50, whose 49 mm thread" in " ".join(text.split())
    assert "lens bare85, whose thread_mm the kit does not give" in " ".join(text.split())
    assert "screw-ins (glass77)" in text


def test_a_cell_of_the_whole_kit_is_what_the_rig_is_alone(data):
    _, found = data("--all", "--body", "A", "--lens", "w16", "--f-number", "11")
    for row in found["whole_kit"]:
        rig = ["--ring", row["ring"], "--holder", row["holder"], *(["--front"] if row["front"] else [])]
        rig += ["--second", row["second"]] if row["second"] else []
        _, alone = data("--body", "A", "--lens", "w16", "--focal", "16", "--f-number", "11", *rig)
        assert row["verdict"] == alone["cases"][0]["verdict"]
        assert row["loss_stops"] == alone["cases"][0]["loss_stops"]
        assert row["widest_clear_mm"] == alone["widest_clear"][0]["focal_length_mm"]["middle"]


def test_the_whole_kit_needs_a_lens_and_a_holder(kit, capsys):
    kit.write_text(KIT[: KIT.index("[[holder]]")], encoding="utf-8")
    assert run(["corners", "--all"]) == 2
    assert "--all: the kit has no holder" in capsys.readouterr().err


def test_a_holder_that_is_pushed_on_needs_no_ring(kit, data):
    kit.write_text(KIT.replace('id = "small"', 'id = "small"\npush_on_mm = 95'), encoding="utf-8")
    _, found = data("--all", "--body", "A", "--lens", "w16")
    pushed = [row for row in found["whole_kit"] if row["ring"] is None]
    assert [(row["holder"], row["second"]) for row in pushed] == [("small", None)]
