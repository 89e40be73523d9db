"""Exit codes, streams and files of each command."""

import json
import os
import subprocess
import sys

import pytest

from audit.cli.entry import run
from audit.jobs import audit as pipeline


def test_audit_writes_the_four_files_and_says_where(dump, away, capsys):
    assert run(["audit", str(dump)]) in (0, 1)
    out, err = capsys.readouterr()
    assert "report: cornerstop-report/report.html" in out
    assert "No kit: " in err and "No frame is declared" in err
    files = {p.name for p in (away / "cornerstop-report").iterdir()}
    assert files == {".cornerstop-output", "report.html", "newest", "run-0001"}
    data = {p.name for p in (away / "cornerstop-report" / "newest").iterdir()}
    assert {"index.html", "frames.parquet", "frames.csv", "findings.json", "orders.csv"} <= data


@pytest.mark.parametrize("relative", [True, False])
def test_a_report_may_lie_where_no_utf8_leads(dump, away, relative):
    folder = os.fsdecode(b"o\xffx") if relative else os.fsdecode(bytes(away) + b"/o\xffx")
    command = [sys.executable, "-m", "audit", "audit", str(dump), "--out", folder]
    done = subprocess.run(
        command, capture_output=True, cwd=away, env=os.environ | {"PYTHONIOENCODING": "utf-8"}
    )
    assert done.returncode in (0, 1), done.stderr
    assert b"o\\xffx/report.html" in done.stdout


def test_a_strangers_folder_is_refused_before_anything_is_read(dump, away, capsys, monkeypatch):
    (away / "diary.txt").write_text("dear diary", encoding="utf-8")
    monkeypatch.setattr(pipeline, "audit", lambda *_, **__: pytest.fail("was read"))
    assert run(["audit", str(dump), "--out", "."]) == 2
    assert "not written by cornerstop" in capsys.readouterr().err


def test_single_writes_one_page(dump, away):
    assert run(["audit", str(dump), "-q", "--single"]) in (0, 1)
    files = {p.name for p in (away / "cornerstop-report" / "newest").iterdir()} - {".cornerstop-output"}
    data = {"frames.parquet", "frames.csv", "findings.json", "orders.csv"}
    assert files == {"report.html", "open.html", *data}


def test_json_is_all_of_stdout(dump, away, capsys):
    run(["audit", str(dump), "--json"])
    out, _ = capsys.readouterr()
    assert json.loads(out)["counts"]["frames"] == 4


def test_quiet_prints_nothing(dump, away, capsys):
    run(["audit", str(dump), "--quiet"])
    assert capsys.readouterr() == ("", "")


def test_nothing_to_act_on_is_0_and_something_is_1(dump, away):
    assert run(["audit", str(dump), "-q"]) == 0
    (dump / "IMG_0001.JPG").write_bytes(b"")
    assert run(["audit", str(dump), "-q"]) == 1


def test_nothing_is_written_into_the_dump(dump, away):
    before = {p: p.stat().st_mtime_ns for p in dump.rglob("*")}
    run(["audit", str(dump), "-q"])
    assert {p: p.stat().st_mtime_ns for p in dump.rglob("*")} == before


def test_the_default_folder_is_refused_inside_the_dump(dump, away, monkeypatch, capsys):
    monkeypatch.chdir(dump)
    assert run(["audit", "."]) == 2
    assert "name a folder with --out" in capsys.readouterr().err
    assert run(["audit", ".", "--out", "report", "-q"]) == 0
    assert run(["audit", ".", "--out", "report", "-q", "--json"]) == 0


def test_our_own_report_inside_the_dump_is_never_scanned(dump, away, capsys):
    run(["audit", str(dump), "--out", str(dump / "report"), "-q"])
    run(["audit", str(dump), "--json"])
    assert json.loads(capsys.readouterr().out)["counts"]["files_seen"] == 4


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["audit"], "Missing argument 'DUMP'"),
        (["audit", "nowhere"], "nowhere"),
        (["audit", ".", "--colour"], "No such option"),
        (["audits"], "No such command"),
        (["explain", "corner"], 'did you mean "corners"?'),
        (["kit", "check", "."], "no kit.toml in it"),
        (["completion", "tcsh"], "tcsh"),
    ],
)
def test_what_cannot_be_done_is_2_and_one_message_on_stderr(away, capsys, arguments, words):
    assert run(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert "Traceback" not in err


def test_a_fault_of_ours_is_3(dump, away, monkeypatch, capsys):
    def broken(*_, **__):
        raise RuntimeError("a wheel came off")

    monkeypatch.setattr(pipeline, "audit", broken)
    assert run(["audit", str(dump)]) == 3
    assert capsys.readouterr().err.startswith("a fault of cornerstop: RuntimeError: a wheel came off")


def test_a_broken_kit_stops_the_run_with_every_mistake(dump, away, capsys):
    kit = away / "kit.toml"
    kit.write_text(
        '[[filter]]\nid = "n6"\nkind = "netural"\nstops = 6\n[[ring]]\nid = "r77"\n', encoding="utf-8"
    )
    assert run(["audit", str(dump), "--kit", str(kit)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2
    assert all("kit.toml:" in line for line in lines)
    assert run(["kit", "check", str(kit)]) == 1


def test_kit_check_of_the_demo_finds_a_density_among_the_stops(demo, away, capsys):
    assert run(["kit", "check", str(demo / "trip")]) == 1
    assert [line.partition(": ")[2] for line in capsys.readouterr().out.splitlines()] == [
        "filter.stops: that is 1.8 stops, unlikely by its value or its name; write density = 1.8?"
    ]


def test_a_kit_is_held_against_the_cameras_of_the_dump(dump, away, capsys):
    kit = dump / "kit.toml"
    kit.write_text('[[body]]\nname = "A"\nmodel = "Beck"\n', encoding="utf-8")
    told = 'model "Beck" matches no frame; the dump holds "Brattholm Beck" ('
    assert run(["kit", "check", str(dump)]) == 1
    assert capsys.readouterr().out.startswith(f"kit.toml:3: body.model: {told}")
    assert run(["kit", "check", str(kit)]) == 0  # alone, it is held against nothing
    assert run(["audit", str(dump)]) == 1
    assert told in capsys.readouterr().err
    kit.write_text('[[body]]\nname = "A"\nmodel = "Brattholm Beck"\n', encoding="utf-8")
    assert run(["kit", "check", str(dump)]) == 0
    assert "no mistakes" in capsys.readouterr().out


def test_notes_on_a_kit_are_no_mistakes(away, capsys):
    lens = '[[lens]]\nid = "w16"\nfocal_mm = [16, 35]\nthread_mm = 77\n'
    (away / "kit.toml").write_text(lens + '[[ring]]\nid = "r52"\nthread_mm = 52\n', encoding="utf-8")
    assert run(["kit", "check", "kit.toml"]) == 0
    out = capsys.readouterr().out
    assert "no mistakes; 0 bodies, 1 lens" in out
    assert 'note: kit.toml:4: lens.thread_mm: no ring fits "w16" (77 mm)' in out
    assert run(["kit", "check", "kit.toml", "--json"]) == 0
    assert [note["level"] for note in json.loads(capsys.readouterr().out)] == ["note"]


def test_kit_check_counts_in_good_english(away, capsys):
    (away / "kit.toml").write_text('[[body]]\nname = "A"\nmodel = "Brattholm Tarn"\n', encoding="utf-8")
    assert run(["kit", "check"]) == 0
    assert "1 body, 0 lenses, 0 rings, 0 holders, 0 filters; 0 files" in capsys.readouterr().out


def test_a_folder_without_pictures_is_said_to_hold_none(away, capsys):
    (away / "card").mkdir()
    run(["audit", "card"])
    assert "No picture was found" in capsys.readouterr().err


def test_the_summary_counts_mistakes(dump, away, capsys):
    (dump / "kit.toml").write_text('[[body]]\nname = "A"\nmodel = "Brattholm Tarn"\n', encoding="utf-8")
    (dump / "filters.toml").write_text('[[worn]]\nfiles = ["XYZ_0001"]\nbare = true\n', encoding="utf-8")
    assert run(["audit", str(dump)]) == 1
    out, err = capsys.readouterr()
    assert "; 1 mistake in kit and declarations" in out
    assert "XYZ_0001" in err and "No frame is declared" not in err


def test_explain_lists_all_checks_and_tells_one(capsys):
    assert run(["explain"]) == 0
    assert "corners " in capsys.readouterr().out
    assert run(["explain", "corners"]) == 0
    page = capsys.readouterr().out
    assert "Threshold: clear" in page
    assert max(map(len, page.splitlines())) <= 80
    assert run(["explain", "corners", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)[0]["id"] == "corners"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_script(shell, capsys):
    assert run(["completion", shell]) == 0
    assert "_CORNERSTOP_COMPLETE" in capsys.readouterr().out


def test_version(capsys):
    assert run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("cornerstop, version ")


def test_the_demo_replaces_only_an_earlier_demo(demo, tmp_path, capsys):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "diary.txt").write_text("dear diary")
    assert run(["demo", "--out", str(tmp_path / "mine")]) == 2
    assert (tmp_path / "mine" / "diary.txt").read_text() == "dear diary"
    assert "not an earlier demo's" in capsys.readouterr().err


def test_a_closed_pipe_is_no_fault(away):
    pipe = f"{sys.executable} -m audit explain | true"
    done = subprocess.run(["bash", "-c", f"set -o pipefail; {pipe}"], capture_output=True, text=True)
    assert done.stderr == ""
    assert done.returncode == 0


def test_no_bar_and_no_colour_in_a_pipe(demo, away):
    command = [sys.executable, "-m", "audit", "audit", str(demo / "trip"), "--out", "report"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=away)
    assert "\x1b" not in done.stdout + done.stderr
    assert done.returncode == 1
