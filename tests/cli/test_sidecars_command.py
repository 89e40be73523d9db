"""`cornerstop sidecars` on a small dump: shown first, then written, then nothing left to do."""

import json

import pytest

from audit.cli.entry import run

KIT = """
[[body]]
name = "A"
model = "Brattholm Beck"
clock_ahead_s = 60
[[lens]]
id = "w16"
exif = ["Sund 16-35 mm f4"]
thread_mm = 77
focal_mm = [16, 35]
[[ring]]
id = "r77"
thread_mm = 77
[[holder]]
id = "main"
slots = 2
[[filter]]
id = "n6"
kind = "neutral"
stops = 6
"""
MINE = b"""<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF
 xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="4"/>
</rdf:RDF></x:xmpmeta>"""


@pytest.fixture
def trip(dump, away):
    """Four pictures, of which the first has a sidecar, and what was worn."""
    (dump / "kit.toml").write_text(KIT)
    pictures = sorted(dump.rglob("*.JPG"))
    span = f'[frames]\n"{pictures[0].stem}..{pictures[-1].stem}" = "n6"\n'
    (pictures[0].parent / "filters.toml").write_text(span)
    pictures[0].with_suffix(".xmp").write_bytes(MINE)
    return dump


def listed(folder):
    return {
        path.name: (path.read_bytes(), path.stat().st_mtime_ns)
        for path in folder.rglob("*")
        if path.is_file()
    }


def sidecars(capsys, trip, *more):
    code = run(["sidecars", str(trip), "--pixels", "off", *more])
    out, err = capsys.readouterr()
    return code, out, err


def test_shown_then_written_then_as_it_is(trip, capsys):
    before = listed(trip)
    code, out, err = sidecars(capsys, trip)
    assert (code, err) == (0, "")
    assert (
        "+     <rdf:li>n6</rdf:li>" in out and "+   <cornerstop:ClockAhead>60</cornerstop:ClockAhead>" in out
    )
    assert out.endswith(
        "4 frames: 3 sidecars new, 1 changed, 0 as they are; nothing written (--write does)\n"
    )
    assert listed(trip) == before
    code, out, err = sidecars(capsys, trip, "--write")
    assert (code, err) == (0, "")
    assert out.endswith("4 written; as they were: 1 beside them, named .xmp.bak\n")
    after = listed(trip)
    first = sorted(name for name in before if name.endswith(".JPG"))[0]
    mine = first.replace("JPG", "xmp")
    assert {name: kept for name, kept in after.items() if name in before and name != mine} == {
        name: kept for name, kept in before.items() if name != mine
    }
    assert after[f"{mine}.bak"][0] == MINE
    assert b'xmp:Rating="4"' in after[mine][0] and b"n6" in after[mine][0]
    code, out, err = sidecars(capsys, trip, "--write")
    assert (code, out) == (0, "4 frames: 0 sidecars new, 0 changed, 4 as they are; 0 written\n")
    assert listed(trip) == after


def test_a_corrected_declaration_changes_the_sidecar(trip, capsys):
    sidecars(capsys, trip, "--write")
    declaration = next(trip.rglob("filters.toml"))
    declaration.write_text(declaration.read_text().replace('"n6"', '"bare"'))
    code, out, _ = sidecars(capsys, trip)
    assert code == 0 and "-     <rdf:li>n6</rdf:li>" in out and "0 sidecars new, 4 changed" in out


def test_a_sidecar_that_cannot_be_read_is_left_alone_and_the_rest_is_done(trip, capsys):
    first = next(trip.rglob("*.xmp"))
    first.write_bytes(b'<!DOCTYPE x [<!ENTITY a "b">]>' + MINE)
    code, out, err = sidecars(capsys, trip, "--write")
    assert code == 1
    assert f"{first.name}: left alone: holds a document type, which XMP has not" in err
    assert "3 written" in out
    assert first.read_bytes().startswith(b"<!DOCTYPE")


def test_as_json(trip, capsys):
    code, out, _ = sidecars(capsys, trip, "--json")
    told = json.loads(out)
    assert code == 0 and not told["written"] and told["frames"] == 4 and told["left_alone"] == []
    assert [one["new"] for one in told["files"]].count(True) == 3
    told = json.loads(sidecars(capsys, trip, "--json", "--write")[1])
    assert [one["backup"] is not None for one in told["files"]].count(True) == 1


def test_the_audit_reads_the_same_with_sidecars(trip, capsys, tmp_path):
    """Nothing that is found, and no number, changes by what is written; the rating stays."""
    tables = []
    for out in ("before", "after"):
        run(["audit", str(trip), "--out", str(tmp_path / out), "--pixels", "off", "-q"])
        tables.append((tmp_path / out / "newest" / "frames.csv").read_bytes())
        sidecars(capsys, trip, "--write")
    assert tables[0] == tables[1] and b"rating 4" in tables[0]
