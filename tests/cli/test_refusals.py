"""Every refusal that a command line can bring about: exit code, message, and that it says what mends it.

docs/refusals.md is the table of them; what it should be is told where the two differ.
"""

import re
import shutil
from pathlib import Path

import pytest

from audit.cli.entry import run

PAGE = Path(__file__).parents[2] / "docs" / "refusals.md"
HEAD = """# Refusals

What a command says when it cannot do its job, on stderr, and how to mend it. Kept true by
`tests/cli/test_refusals.py`, which brings each one about. Exit code 2 is a job that could not be done, 1 a
mistake in kit or declarations. Where the words of a command are wrong, its usage stands before the message.

| command | exit code | message |
|---|---|---|
"""
TAIL = """
Not in the table, since no folder of a test's own brings them about: a full disk, a file that was changed
meanwhile, output that cannot be written, a missing package or library for `--pdf` or `season` (the message
holds the line that installs it), a dump in the program's own folder or in that for temporary files, frames
that contradict each other in `calibrate` (`tests/cli/test_calibrate.py`), and all that can be wrong in kit
and declarations (`cornerstop kit check` lists it).
"""
NUMBERS = "--thread 77 --focal 16 --f-number 8 --sensor 36x24"

CASES = {
    "kit": [
        "kit new empty",
        "kit new bare --add",
        "kit new bare --add --out other.toml",
        "kit new bare --write",
        "kit new bare --out folder",
        "kit new trip",
        "kit new bare --out full.toml",
        "kit new bare --out full.toml/kit.toml",
        "kit new bare --add --out broken.toml",
        "kit new bare --add --out braces.toml",
        "kit check bare",
        "kit check nowhere",
        "kit check broken.toml",
    ],
    "audit": [
        "audit nowhere",
        "audit trip --out full.toml",
        "audit trip --out folder",
        "audit trip --out .",
        "audit trip --lang xx",
        "audit trip --place somewhere",
        "audit trip --place 95,7",
        "audit trip --pixels some",
        "audit trip --kit broken.toml",
        "audit trip --kit nowhere.toml",
    ],
    "archive and verify": [
        "archive nowhere bag",
        "archive trip folder",
        "archive trip nowhere/bag",
        "archive trip trip/bag",
        "archive trip",
        "archive trip bag bag",
        "archive trip bag --with trip",
        "archive trip bag --rename date",
        "archive --update bare",
        "archive --update bare --sha256",
        "archive trip bag --kit broken.toml",
        "verify nowhere",
        "verify bare --quick --card trip",
        "verify bare --card .",
    ],
    "draft": [
        "draft bare",
        "draft trip --kit lean.toml",
        "draft trip --accept likely",
        "draft trip --files TARN0001 TARN0002",
        "draft trip --accept likely --files A B --times C D",
        "draft trip --accept likely --times yesterday today",
        "draft trip --accept likely --say A none",
        "draft trip --say NOSUCH none",
        "draft trip --say {first} n99",
        "draft trip --say {first} n6+n6",
    ],
    "filters and calibrate": [
        "filters bare",
        "filters trip --kit lean.toml",
        "calibrate bare",
        "calibrate empty --kit full.toml",
        "calibrate trip --kit full.toml --lens w99",
        "calibrate trip --kit full.toml --lens w20",
        "calibrate trip --kit lean.toml",
    ],
    "corners": [
        "corners",
        "corners --kit full.toml --lens w99",
        "corners --kit full.toml --lens w16 --thread 82",
        "corners --kit full.toml --lens w16 --focal 200",
        "corners --kit full.toml --lens w16 --depth-err 2",
        "corners --kit full.toml --lens w16 --ring r99",
        "corners --kit full.toml --lens w16 --holder h99",
        "corners --kit full.toml --lens w16 --body Z",
        "corners --kit full.toml --lens w16 --body A --sensor 36x24",
        "corners --kit full.toml --lens w16 --sensor big",
        "corners --kit full.toml --lens w16 --rig slots=twelve",
        "corners --kit full.toml --lens w16 --rig turn=round",
        "corners --kit full.toml --lens w16 --rig colour=red",
        "corners --kit full.toml --lens w16 --rig a=ring=r77 --rig a=ring=r77",
        "corners --kit full.toml --all --ring r77",
        "corners --kit lean.toml --all",
        f"corners {NUMBERS} --slots 0 --front",
    ],
    "sidecars": ["sidecars nowhere", "sidecars bag/data"],
    "season": [
        "season nowhere",
        "season empty",
        "season old --out full.toml",
        "season old --out old/ravnsund/page",
        "season old --csv",
        "season old --lang xx",
        "season old --rows 0",
        "season old --out page --sql FROM(frames)",
        "season old --sql CHECKPOINT",
        "season old --sql FROM/**/frames;FROM/**/rigs",
        "season old --sql FROM'/etc/passwd.csv'",
        "season old --sql FROM/**/read_text('/etc/passwd')",
        "season old --sql SELECT(getenv('HOME'))",
    ],
    "shelf": [
        "shelf nowhere",
        "shelf empty",
        "shelf trip --out full.toml",
        "shelf trip --out trip/page",
        "shelf trip --depth 0",
        "shelf trip --lang xx",
    ],
    "others": ["explain no-such-check", "demo --out folder", "nonsense"],
}
FULL = """
[[body]]
name = "A"
model = "Brattholm Tarn"
sensor_mm = [35.9, 24.0]
[[lens]]
id = "w16"
exif = ["Sund 16-35 mm f4"]
thread_mm = 77
focal_mm = [16, 35]
[[lens]]
id = "w20"
exif = ["Sund 20 mm f1.8"]
thread_mm = 77
focal_mm = 20
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
FILES = {
    "full.toml": FULL,
    "lean.toml": '[[body]]\nname = "A"\nmodel = "Brattholm Tarn"\n',
    "broken.toml": '[[lens]]\nid = "w"\n',
    "braces.toml": "lens = [{id = 'w', focal_mm = 7}]\n",
    "folder/diary.txt": "dear diary",
    "bag/bagit.txt": "BagIt-Version: 1.0",
    "trip/kit.toml": FULL,
}


@pytest.fixture
def here(demo, away, monkeypatch):
    """A folder with a trip, the same without a kit in a folder of its own, and what else the cases name."""
    source = next(p.parent for p in sorted((demo / "trip").rglob("*.JPG")))
    pictures = sorted(source.glob("*.JPG"))[:4]
    for name in ("trip", "bare/bare"):
        (away / name).mkdir(parents=True)
        for picture in pictures:
            shutil.copy(picture, away / name)
    for name in ("empty", "folder", "bag/data"):
        (away / name).mkdir(parents=True)
    shutil.copytree(PAGE.parents[1] / "fixtures" / "season" / "version-1", away / "old")
    for name, text in FILES.items():
        (away / name).write_text(text, encoding="utf-8")
    return away, pictures[0].stem


def told(command, here, capsys):
    """Exit code, and the last line of what is said, with the folder's own path taken out."""
    place, first = here
    words = ["bare/bare" if word == "bare" else word.format(first=first) for word in command.split()]
    code = run(words)
    out, err = capsys.readouterr()
    said = (
        (err if code == 2 else out).strip().replace(str(place), "/here").replace(str(place.parent), "/there")
    )
    return code, said.splitlines()[-1].removeprefix("Error: "), first


def test_the_table_of_refusals_is_true(here, capsys, tmp_path):
    rows = []
    for commands in CASES.values():
        for command in commands:
            code, message, first = told(command, here, capsys)
            assert code == 2 or (code == 1 and command.startswith("kit check")), (command, code, message)
            shown = re.sub(r"([|<>*_])", r"\\\1", message.replace(first, "TARN0001"))
            rows.append(f"| `cornerstop {command.format(first='TARN0001')}` | {code} | {shown} |\n")
    page = HEAD + "".join(rows) + TAIL
    (tmp_path / "refusals.md").write_text(page, encoding="utf-8")
    assert PAGE.read_text(encoding="utf-8") == page, f"as it should be: {tmp_path / 'refusals.md'}"


def test_nothing_is_written_by_a_refusal(here, capsys):
    before = {p: p.stat().st_mtime_ns for p in here[0].rglob("*") if p.is_file()}
    for command in CASES["kit"]:
        told(command, here, capsys)
    assert {p: p.stat().st_mtime_ns for p in here[0].rglob("*") if p.is_file()} == before
