"""`cornerstop archive --xmp`: sidecars among what is known, while the card's own stay as they were."""

import shutil

import pytest

from audit.cli.entry import run
from audit.jobs.verify import verify

MINE = b"""<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF
 xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="4"/>
</rdf:RDF></x:xmpmeta>"""


@pytest.fixture
def card(skarven, tmp_path):
    """Four pictures: one with a sidecar, one with something that is none."""
    trip = skarven / "trip"
    there = tmp_path / "card" / "day"
    there.mkdir(parents=True)
    shutil.copy2(trip / "kit.toml", tmp_path / "card")
    for path in sorted((trip / "2025-09-13 Ravnsund").glob("*.JPG"))[:4]:
        shutil.copy2(path, there)
    pictures = sorted(there.glob("*.JPG"))
    pictures[0].with_suffix(".xmp").write_bytes(MINE)
    pictures[1].with_name(f"{pictures[1].name}.xmp").write_bytes(b"none")
    span = f'[frames]\n"{pictures[0].stem}..{pictures[-1].stem}" = "bare"\n'
    (there / "filters.toml").write_text(span)
    return tmp_path / "card"


def files(folder):
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


def test_sidecars_in_the_bag(card, tmp_path, capsys):
    before = files(card)
    bag = tmp_path / "bag"
    assert run(["archive", str(card), str(bag), "--pixels", "off", "--xmp"]) == 0
    err = capsys.readouterr().err
    assert files(card) == before
    assert files(bag / "data" / "pictures") == before
    names = sorted(name for name in before if name.endswith(".JPG"))
    assert f"{names[1]}.xmp: archived as it is, but not merged: is no XML" in err
    made = files(bag / "data" / "knowledge" / "sidecars")
    assert list(made) == [name.replace("JPG", "xmp") for name in (names[0], *names[2:])]
    mine = made[names[0].replace("JPG", "xmp")]
    assert b'xmp:Rating="4"' in mine and b"<cornerstop:Declaration>bare<" in mine
    assert b"xmp:Rating" not in made[names[2].replace("JPG", "xmp")]
    assert not verify(bag).found.problems
    bagit = pytest.importorskip("bagit", reason="bagit is not installed (cornerstop[dev])")
    assert bagit.Bag(str(bag)).validate(processes=1)


def test_an_update_goes_on_with_them(card, tmp_path):
    bag, notes = tmp_path / "bag", tmp_path / "notes" / "day"
    assert run(["archive", str(card), str(bag), "--pixels", "off", "-q", "--xmp"]) == 0
    before = files(bag / "data" / "pictures")
    notes.mkdir(parents=True)
    text = (card / "day" / "filters.toml").read_text()
    (notes / "filters.toml").write_text(text.replace('"bare"', '"unknown"'))
    asked = ["archive", "--update", str(bag), "--declarations", str(notes.parent), "--pixels", "off", "-q"]
    assert run([*asked, "--xmp"]) == 2
    assert run(asked) == 0
    made = files(bag / "data" / "knowledge" / "sidecars")
    assert len(made) == 3 and all(b"<cornerstop:Declaration>unknown<" in one for one in made.values())
    assert files(bag / "data" / "pictures") == before
    assert not verify(bag).found.problems


def test_renamed_pictures(card, tmp_path):
    bag = tmp_path / "bag"
    asked = ["archive", str(card), str(bag), "--pixels", "off", "-q", "--xmp", "--rename", "{date}-{counter}"]
    assert run(asked) == 0
    made = files(bag / "data" / "knowledge" / "sidecars")
    assert len(made) == 3 and sum(b'xmp:Rating="4"' in one for one in made.values()) == 1
    assert all(b"<cornerstop:Declaration>bare<" in one for one in made.values())
    pictures = {name.rpartition(".")[0] for name in files(bag / "data" / "pictures")}
    assert {name.rpartition(".")[0] for name in made} <= pictures
    assert not verify(bag).found.problems


def test_none_without_asking(card, tmp_path):
    bag = tmp_path / "bag"
    assert run(["archive", str(card), str(bag), "--pixels", "off", "-q"]) == 0
    assert not (bag / "data" / "knowledge" / "sidecars").exists()
