"""`cornerstop corners`: what it says, its exit codes, its picture and its data."""

import io
import json
import subprocess
import sys
from xml.etree import ElementTree

import numpy as np
import pytest
from rich.console import Console

from audit.cli.entry import run
from audit.corners.predict import Geometry, predict
from audit.corners.prediction import Prediction
from audit.corners.question import Question
from audit.declare import build_rig
from audit.declare.worn import Worn
from audit.errors import AuditError
from audit.jobs.corners import ask
from audit.kit.kit import Kit, Lens
from audit.report.terminal import WIDTH, band, lines, picture

NUMBERS = ["corners", "--sensor", "36x24", "--thread", "77"]
CUTS = [*NUMBERS, "--focal", "14", "--second", "default", "--front"]
CLEAR = [*NUMBERS, "--focal", "50", "--slots", "0"]
KIT = """
[[body]]
name = "A"
model = "Brattholm Tarn"
sensor_mm = [36.0, 24.0]
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
[[holder]]
id = "main"
slots = 3
bore_mm = 85
base_mm = 7
clear_width_mm = 90
slot_pitch_mm = 3.2
front_ring_mm = 98
front_ring_thickness_mm = 7.5
[[hood]]
id = "h16"
length_mm = 30
bore_mm = 95
"""


@pytest.fixture
def kit(away):
    path = away / "kit.toml"
    path.write_text(KIT, encoding="utf-8")
    return path


def said(answer, **console):
    file = io.StringIO()
    out = Console(file=file, width=WIDTH, highlight=False, **console)
    for line in lines(answer):
        out.print(line, soft_wrap=True)
    return file.getvalue()


def data(capsys, *arguments):
    code = run(["corners", *arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_exit_codes_tell_whether_it_cuts(away, capsys):
    assert run(CUTS) == 1
    assert "cut" in capsys.readouterr().out
    assert run(CLEAR) == 0
    out, err = capsys.readouterr()
    assert "cut" not in out
    assert err == ""
    assert run([*CUTS, "--quiet"]) == 1
    assert capsys.readouterr() == ("", "")


def test_at_risk_alone_is_0(away, capsys):
    code, found = data(capsys, *NUMBERS[1:], "--focal", "20")
    assert {case["verdict"] for case in found["cases"]} == {"at risk"}
    assert code == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "give --lens (the kit has w16, n24)"),
        (["--focal", "16"], "missing: --sensor, --thread"),
        (["--lens", "w61"], 'did you mean "w16"?'),
        (["--lens", "w16", "--focal", "50"], "16 to 35 mm"),
        (["--lens", "w16", "--thread", "72"], "leave --thread out"),
        (["--lens", "w16", "--ring", "low"], "--ring"),
        (["--lens", "n24", "--ring", "r77"], "--ring: ring"),
        (["--lens", "w16", "--behind", "s82"], "--behind"),
        (["--lens", "w16", "--holder", "mian"], 'did you mean "main"?'),
        (["--lens", "w16", "--second", "tiny"], "--second"),
        (["--lens", "w16", "--slots", "0", "--front"], "leave --front out"),
        (["--lens", "w16", "--slots", "0", "--second", "main"], "leave --second out"),
        (["--lens", "w16", "--hood", "h24"], "--hood"),
        (["--lens", "n24", "--depth-err", "1"], "needs --depth"),
        (["--lens", "w16", "--focal", "nan"], "nan"),
        (["--lens", "w16", "--f-number", "0"], "--f-number"),
        (["--lens", "w16", "--depth", "inf"], "--depth"),
        (["--lens", "w16", "--sensor", "36"], "like 36x24"),
        (["--lens", "w16", "--sensor", "0x24"], "like 36x24"),
        (["--lens", "w16", "--shift", "up"], "like 0,5"),
        (["--lens", "w16", "--kit", "nowhere.toml"], "nowhere.toml"),
        (["--lens", "w16", "--body", "a"], '--body: "a" is not in the kit; did you mean "A"?'),
        (["--lens", "w16", "--body", "A", "--sensor", "36x24"], "leave one of the two out"),
        (["--lens", "w16", "--rig", "low=ring=r78"], '--rig low: --ring: "r78" is not in the kit'),
        (["--lens", "w16", "--rig", "low=rng=r77"], 'did you mean "ring"?'),
        (["--lens", "w16", "--rig", "low=ring"], "--rig low: write ring=... with a value"),
        (["--lens", "w16", "--rig", "low=front=yes"], "--rig low: write front alone"),
        (["--lens", "w16", "--rig", "low=turn=left"], "degrees from -360 to 360"),
        (["--lens", "w16", "--rig", "low=slots=2.5"], "a whole number from 0 to 10"),
        (["--lens", "w16", "--rig", "low=ring=r77,ring=low77"], "ring stands twice"),
        (["--lens", "w16", "--rig", "a=front", "--rig", "a=ring=r77"], '"a" stands twice'),
        (["--lens", "w16", "--rig", f"{'a' * 17}=front"], "no name of 1 to 16 characters"),
        (["--lens", "w16", "--rig", ""], "--rig rig 1"),
        (["--all", "--ring", "r77"], "--ring: --all looks at every rig of the kit"),
        (["--all", "--rig", "a=front"], "--rig: --all looks at every rig of the kit"),
        (["--all", "--svg", "x.svg"], "--svg: --all"),
        (["--all", "--lens", "w61"], 'did you mean "w16"?'),
    ],
)
def test_wrong_usage_is_2_and_names_the_option(kit, capsys, arguments, words):
    assert run(["corners", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err


def test_a_wrong_kit_is_told_with_its_lines(kit, capsys):
    kit.write_text(KIT + '[[ring]]\nid = "r82"\n', encoding="utf-8")
    assert run(["corners", "--lens", "w16"]) == 2
    assert "kit.toml:" in capsys.readouterr().err


def test_several_holders_must_be_named(kit, capsys):
    more = '[[body]]\nname = "B"\nmodel = "Brattholm N2"\nsensor_mm = [23.5, 15.6]\n'
    kit.write_text(KIT + more + '[[holder]]\nid = "small"\nslots = 1\n', encoding="utf-8")
    assert run(["corners", "--lens", "w16", "--sensor", "36x24"]) == 2
    assert "main, small" in capsys.readouterr().err
    assert run(["corners", "--lens", "w16", "--sensor", "23.5x15.6", "--holder", "small"]) in (0, 1)


def test_the_kit_is_used_and_nothing_assumed_where_it_says_all(kit, capsys):
    code, found = data(capsys, "--lens", "w16", "--front", "--second", "main", "--second-turn", "30")
    assert found["assumed"] == []
    assert "3 slots and 3 slots; second holder turned 30°" in found["rig"]
    assert sorted({case["focal_length_mm"] for case in found["cases"]}) == [16, 18, 20, 24, 28, 35]
    assert code == 1


def test_numbers_are_those_of_the_model(kit, capsys):
    _, found = data(capsys, "--lens", "w16", "--focal", "16", "--f-number", "11", "--turn", "20")
    parsed = Kit.model_validate(
        {
            "ring": [{"id": "r77", "thread_mm": 77.0, "bore_mm": 74.5, "height_mm": 4.0}],
            "holder": [
                {
                    "id": "main",
                    "slots": 3,
                    "bore_mm": 85.0,
                    "base_mm": 7.0,
                    "clear_width_mm": 90.0,
                    "slot_pitch_mm": 3.2,
                }
            ],
        }
    )
    rig = build_rig(Worn(ring="r77", holder="main", turn_deg=20.0), parsed)
    lens = Lens(id="w16", focal_mm=(16.0, 35.0), pupil_depth_mm=25.0, pupil_depth_err_mm=1.0)
    model = predict(rig, Geometry(16.0, 2**3.5, 36.0, 24.0), lens)
    case = found["cases"][0]
    assert case["verdict"] == model.verdict
    assert case["corner_deg"] == pytest.approx(model.angle_deg, abs=0.01)
    assert case["lost_from_deg"]["half_stop"] == pytest.approx(model.onset_deg, abs=0.01)
    for name, expected in zip(case["corners"], model.corner_stops, strict=True):
        found_band = [np.inf if v is None else v for v in case["corners"][name].values()]
        assert found_band == pytest.approx(expected, abs=0.001)


def test_what_helps_is_what_the_changed_rig_gives(kit, capsys):
    asked = ["--lens", "w16", "--focal", "18", "--f-number", "8", "--front", "--second", "main"]
    asked += ["--second-turn", "60"]
    _, before = data(capsys, *asked)
    changed = {
        "a recessed ring instead": [*asked, "--ring", "recessed"],
        "no front ring": [a for a in asked if a != "--front"],
        "no second holder": asked[:7],
        "the second holder turned back": [*asked[:-1], "0"],
    }
    found = {help_["change"]: help_ for help_ in before["helps"]}
    for words, arguments in changed.items():
        _, after = data(capsys, *arguments)
        assert found[words]["loss_stops"] == after["cases"][0]["loss_stops"]
        assert found[words]["widest_clear_mm"] == after["widest_clear"][0]["focal_length_mm"]["middle"]
        assert found[words]["clean_crop_share"] == (after["crop"] or {"share": 0})["share"]


def test_helps_are_sorted_by_gain_and_told_only_where_something_is_lost():
    kit, asked = Kit(), {"sensor_mm": (36.0, 24.0), "thread_mm": 77.0}
    answer = ask(Question(focal_mm=(20.0,), second="default", second_turn_deg=45.0, front=True, **asked), kit)
    gains = [(h.regained_stops, h.wider_mm or 0.0, h.cleaner) for h in answer.helps]
    assert gains == sorted(gains, reverse=True)
    crop = next(h for h in answer.helps if h.words.startswith("a crop to "))
    assert crop.losses[1] <= 0.5 < answer.shown.prediction.loss_stops
    assert crop.losses[0] <= crop.losses[1] <= crop.losses[2]
    assert any(h.words == "a ring of 82 mm on a step ring" for h in answer.helps)
    assert ask(Question(focal_mm=(50.0,), slots=0, **asked), kit).helps == ()


def test_a_second_holder_of_the_same_kind_has_the_front_ring_alone():
    """The polariser sits on the front of the two, not on both."""
    question = Question(
        focal_mm=(20.0,),
        f_numbers=(8.0,),
        sensor_mm=(36.0, 24.0),
        thread_mm=77.0,
        front=True,
        second="default",
    )
    answer = ask(question, Kit())
    assert any(words == "bore of the front ring of holder second default" for words in answer.assumed)
    assert not any("front ring of holder default" in words for words in answer.assumed)


def test_behind_and_push_on_holder(kit, capsys):
    code, found = data(capsys, "--lens", "n24", "--behind", "s72-77", "--ring", "r77")
    assert "step ring 72 to 77 mm, 77 mm ring" in found["rig"]
    assert code in (0, 1)
    kit.write_text(KIT.replace('id = "main"', 'id = "main"\npush_on_mm = 95'), encoding="utf-8")
    _, found = data(capsys, "--lens", "w16")
    assert "ring" not in found["rig"]


def test_f_number_is_the_exact_one_behind_the_nominal():
    """f/11 is f/11.31: the pupil of the exact step is meant."""
    asked = {"sensor_mm": (36.0, 24.0), "thread_mm": 77.0, "focal_mm": (17.0,)}
    nominal, exact = (ask(Question(f_numbers=(n,), **asked), Kit()) for n in (11.0, 2**3.5))
    assert nominal.shown.prediction.loss_stops == exact.shown.prediction.loss_stops


@pytest.mark.parametrize(
    "question",
    [
        Question(focal_mm=(14.0, 16.5, 105.0), sensor_mm=(36.0, 24.0), thread_mm=77.0),
        Question(
            focal_mm=(16.0,),
            f_numbers=(1.4, 4.0, 8.0, 11.0, 22.0),
            sensor_mm=(36.0, 24.0),
            thread_mm=77.0,
            second="default",
            turn_deg=12.5,
            second_turn_deg=-33.0,
            shift_mm=(3.5, -5.0),
            front=True,
        ),
        Question(focal_mm=(10.0,), sensor_mm=(15.6, 23.5), thread_mm=62.0),
        Question(focal_mm=(8.0,), sensor_mm=(44.0, 11.0), thread_mm=49.0, slots=10),
    ],
)
def test_a_terminal_of_80_columns_and_plain_characters_suffices(question):
    text = said(ask(question, Kit()))
    assert max(map(len, text.splitlines())) <= 80
    assert set(text) - set(map(chr, range(32, 127))) <= {"\n", "°"}
    assert not any(line != line.rstrip() for line in text.splitlines())


def test_colour_only_on_a_terminal_and_without_no_color(monkeypatch):
    question = Question(focal_mm=(16.0,), sensor_mm=(36.0, 24.0), thread_mm=77.0)
    answer = ask(question, Kit())
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    assert "\x1b[33m" in said(answer, force_terminal=True)
    assert "\x1b" not in said(answer)
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b[33m" not in said(answer, force_terminal=True)


def test_nothing_but_plain_lines_in_a_pipe(away):
    done = subprocess.run([sys.executable, "-m", "audit", *CUTS], capture_output=True, text=True, cwd=away)
    assert (done.returncode, done.stderr) == (1, "")
    assert "\x1b" not in done.stdout


def made(best, middle, worst):
    return Prediction(45.0, 1.0, 1.0, best, middle, worst, 40.0, "ring", ())


def test_picture_marks_what_is_sure_predicted_and_perhaps():
    best, middle, worst = (np.zeros((41, 61)) for _ in range(3))
    worst[:, :30], middle[:, :20], best[:, :10], best[:, :3] = 0.6, 0.6, 0.6, np.inf
    middle[:, :10] = worst[:, :10] = np.inf
    drawn = picture(made(best, middle, worst), 36.0, 24.0)
    row = drawn[5].strip("|")
    assert len(drawn) == 17
    assert {len(line) for line in drawn} == {47}
    assert row == "".join(sorted(row, key="#x+. ".index))
    assert [row.count(mark) for mark in "#x+. "] == pytest.approx([2.2, 5.2, 7.4, 7.4, 22.8], abs=1)


def test_picture_of_an_upright_sensor_is_upright():
    losses = np.zeros((41, 61))
    losses[0, 0] = 1.0
    drawn = picture(made(losses, losses, losses), 24.0, 36.0)
    assert len(drawn) - 2 == pytest.approx((len(drawn[0]) - 2) * 36 / 24 / 2, abs=1)
    assert drawn[1][1] == "x"


def test_bands_in_few_characters():
    assert band(0.0, 0.04) == "0"
    assert band(0.12, 1.26) == "0.1-1.3"
    assert band(0.0, np.inf) == "0-black"
    assert band(12.0, np.inf) == "black"


def test_svg_is_one_whole_file_with_words_and_legend(away):
    assert run([*CUTS, "--svg", "cut.svg", "-q"]) == 1
    assert run([*CLEAR, "--svg", "clear.svg", "-q"]) == 0
    assert sorted(p.name for p in away.iterdir()) == ["clear.svg", "cut.svg"]
    cut, clear = (ElementTree.parse(away / name).getroot() for name in ("cut.svg", "clear.svg"))
    words = " ".join(" ".join(cut.itertext()).split())
    for told in ("14 mm, f/", "is in the way", "no light, surely", "half a stop lost, perhaps"):
        assert told in words
    assert "surely" not in " ".join(clear.itertext())
    assert "http" not in (away / "cut.svg").read_text().replace("http://www.w3.org/2000/svg", "")


def test_svg_that_cannot_be_written_is_2_and_leaves_nothing(away, capsys):
    assert run([*CUTS, "--svg", str(away / "none" / "cut.svg")]) == 2
    assert "cut.svg: cannot be written" in capsys.readouterr().err
    assert list(away.iterdir()) == []


def test_words_that_would_break_a_picture_are_escaped(away):
    kit = KIT.replace('id = "w16"', 'id = "w<16>&"')
    (away / "kit.toml").write_text(kit, encoding="utf-8")
    assert run(["corners", "--lens", "w<16>&", "--svg", "cut.svg", "-q"]) == 1
    assert "w<16>&" in " ".join(ElementTree.parse(away / "cut.svg").getroot().itertext())


def test_an_impossible_rig_says_why():
    with pytest.raises(AuditError, match="--behind"):
        ask(Question(focal_mm=(16.0,), sensor_mm=(36.0, 24.0), thread_mm=77.0, behind=("s",)), Kit())
