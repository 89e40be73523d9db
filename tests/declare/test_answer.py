"""Answers that come with the command: understood as meant, written where they belong, or refused."""

import tomllib
from types import SimpleNamespace

import pytest
from drafting import DOUBT, KIT, NONE, SIX, estimated

from audit.declare.answer import Said, answers, frames_of, frames_word
from audit.declare.draft_write import write
from audit.declare.index import frame_index
from audit.declare.join import join
from audit.declare.marks import blanked, own_blocks
from audit.declare.read import load
from audit.errors import AuditError
from audit.jobs.draft import drafted_from, joined_with
from audit.table.columns import records

MORE = """
[[lens]]
id = "m58"
thread_mm = 58
focal_mm = 50

[[lens]]
id = "m95"
thread_mm = 95
focal_mm = 100

[[step_ring]]
id = "s58"
from_mm = 58
to_mm = 77
"""


@pytest.fixture
def trip(table, tmp_path):
    """A dump with a kit, and ten frames of one folder with their estimates."""
    dump = tmp_path / "dump"
    (dump / "100BRAT").mkdir(parents=True)
    (dump / "kit.toml").write_text(KIT + MORE)
    frames = estimated(table, NONE, NONE, SIX, SIX, DOUBT, NONE, DOUBT, SIX, {**SIX, "lens_id": "m58"}, DOUBT)
    return SimpleNamespace(dump=dump, frames=frames.assign(body="A"), path=dump / "100BRAT" / "filters.toml")


def drafted(trip, *said):
    """What `cornerstop draft --write --say ...` does once the pictures are estimated."""
    loaded = load(trip.dump, drafts=False)
    joined, given = joined_with(trip.frames, loaded, [Said(*one) for one in said])
    found = drafted_from(joined.frames, loaded, joined.mistakes, trip.dump, None, given)
    return found, [write(change) for change in found.changes]


def declared(trip):
    loaded = load(trip.dump)
    frames = join(trip.frames, loaded.kit, loaded.declarations).frames
    mine = frames["declaration_source"] == "photographer"
    return frames["declaration"].where(mine, "-").tolist(), frames["filters"].tolist()


def test_each_answer_is_the_photographers_word_in_the_place_of_what_was_drafted(trip):
    drafted(trip)
    before = trip.path.read_text()
    said = [
        ("TARN0105", "n4+g2"),
        ("TARN0106", "bare"),
        ("TARN0101..TARN0102", "none"),
        ("TARN0110", "unknown"),
    ]
    found, backups = drafted(trip, *said)
    assert found.answered == 5 and found.silent == 5 and len(backups) == 1
    assert backups[0].read_text() == before
    states, filters = declared(trip)
    assert states == ["no-neutral"] * 2 + ["-"] * 2 + ["worn", "bare", "-", "-", "-", "unknown"]
    assert filters[4] == ["n4", "g2"]
    files = [span["files"] for span in tomllib.loads(trip.path.read_text())["worn"]]
    assert files == sorted(files)
    assert len(own_blocks(trip.path.read_text())) == 4
    again = trip.path.read_bytes()
    found, backups = drafted(trip)
    assert backups == [] and trip.path.read_bytes() == again
    found, backups = drafted(trip, *said)  # the command pasted once more
    assert backups == [] and found.answered == 0 and trip.path.read_bytes() == again


def test_ring_and_holder_are_those_that_the_kit_carries_it_with(trip):
    drafted(trip, ("TARN0108..TARN0109", "pol+n6"))
    first, second = (span for span in tomllib.loads(trip.path.read_text())["worn"] if "source" not in span)
    rig = {"ring": "r77", "holder": "main", "slots": ["n6"], "front": "pol"}
    assert first == {"files": ["TARN0108"], **rig}
    assert second == {"files": ["TARN0109"], "behind": ["s58"], **rig}
    assert "# answered: pol+n6\nfiles = " in trip.path.read_text()
    assert "# ring could be r77low as well\n" in trip.path.read_text()


@pytest.mark.parametrize(
    "own",
    [
        "# mine\r\n\r\n[[worn]]\r\nfiles = ['TARN0103']\r\nbare = true\r\nnote = '''\r\n\r\n'''\r\n",
        "\ufeff# mine\n[[worn]]\nfiles = ['TARN0103']\nbare = true",
        "inherit = false\n",
        "",
    ],
)
def test_all_that_is_the_photographers_stays_to_the_byte(trip, own):
    trip.path.write_bytes(own.encode())
    drafted(trip)
    before = trip.path.read_bytes().decode()
    drafted(trip, ("TARN0105..TARN0107", "n4"))
    after = trip.path.read_bytes().decode()
    assert after.startswith(own) and before.startswith(own)
    states, filters = declared(trip)
    assert states[4:7] == ["worn"] * 3 and filters[4:7] == [["n4"]] * 3
    assert "\n" not in after.replace("\r\n", "") or "\r\n" not in own
    rest = [line for line in blanked(before).splitlines() if line.strip()]
    kept = iter(blanked(after).splitlines())
    assert all(line in kept for line in rest)


def test_an_answer_alone_makes_a_file_without_words_on_drafts(trip):
    drafted(trip, ("TARN0101..TARN0110", "n4"))
    assert (
        trip.path.read_text().startswith("[[worn]]\n# answered: n4\n")
        and "draft" not in trip.path.read_text()
    )


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ([("TARN0105", "n44")], '"n44" is no filter of the kit; did you mean "n4"?'),
        ([("TARN0105", "everything")], "write one of n6, g2, n4, pol, none, bare, unknown"),
        ([("TARN0105", "n4+n4")], '"n4" stands twice'),
        ([("TARN0105", "n4+n6+g2")], "no holder of the kit has slots enough"),
        ([("TARN0105", "n4"), ("TARN0105..TARN0106", "none")], "is in TARN0105 and in TARN0105..TARN0106"),
        ([("TARN0107..TARN0105", "n4")], '"TARN0107" was taken after "TARN0105"'),
        ([("TARN0105..TARN0999", "n4")], 'no frame "TARN0999" in the dump; did you mean'),
        ([("TARN0102..TARN0105", "n4")], "100BRAT/TARN0103 is declared already, at 100BRAT/filters.toml:1"),
        ([("TARN0103..TARN0104", "none")], "TARN0103 is declared already"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_nothing_is_written(trip, said, why):
    own = "[[worn]]\nfiles = ['TARN0103', 'TARN0104']\nbare = true\n"
    trip.path.write_text(own)
    with pytest.raises(AuditError, match=r"^--say: ") as caught:
        drafted(trip, *said)
    assert why in str(caught.value)
    assert trip.path.read_text() == own


def test_a_lens_that_the_kit_has_no_ring_for_is_named_with_what_to_do(trip):
    trip.frames = trip.frames.assign(lens_id="m95")
    with pytest.raises(
        AuditError, match=r'no ring or step ring of the kit fits lens "m95".*; mend kit\.toml'
    ):
        drafted(trip, ("TARN0105", "n4"))
    drafted(trip, ("TARN0105", "none"))


def test_a_filter_that_is_called_like_a_state_is_not_guessed(trip):
    (trip.dump / "kit.toml").write_text(KIT.replace('id = "n4"', 'id = "none"'))
    with pytest.raises(AuditError, match="is a filter of the kit too"):
        drafted(trip, ("TARN0105", "none"))


def two_cards(table):
    """Frames of two bodies with the same names, in folders one of which ends like the other; odd names."""
    names = [f"{card}100BRAT/{name}" for card in ("", "back/") for name in ("N_0001", "N_0002", "N_0003")]
    names += ["odd/a..b", "odd/a..b..c", "odd/b", "odd/-x"]
    bodies = ["A"] * 3 + ["B"] * 3 + ["C"] * 4
    rows = [
        {
            "frame": name,
            "folder": name.rsplit("/", 1)[0],
            "counter": at,
            "files": [f"{name}.JPG"],
            "body": body,
        }
        for at, (name, body) in enumerate(zip(names, bodies, strict=True))
    ]
    return frame_index(table(rows))


def test_every_run_of_frames_can_be_written_so_that_it_is_understood(table):
    index = two_cards(table)
    for order in index.order.values():
        for first in range(len(order)):
            for last in range(first, len(order)):
                run = order[first : last + 1]
                word = frames_word(run, index)
                assert word and not word.startswith("-")
                assert frames_of(word, index) == run
    assert frames_of("back/100brat/n_0001.jpg..back/100BRAT/N_0002", index) == index.order["B"][:2]
    with pytest.raises(AuditError, match="the names fit body A and body B"):
        frames_of("N_0001..N_0003", index)


def test_an_answer_goes_into_the_declaration_above_and_is_parted_where_there_are_two(table, trip):
    index = two_cards(table)
    rows = [
        {"declaration": "undeclared", "lens_id": None, "filters": (), "declaration_source": None}
        for _ in index.frames
    ]
    kit = load(trip.dump).kit
    (one,) = answers([Said("back/100BRAT/N_0001..back/100BRAT/N_0003", "bare")], rows, index, kit, {"."})
    assert (one.folder, one.names[0]) == (".", "back/100BRAT/N_0001")
    (one,) = answers([Said("back/100BRAT/N_0002", "bare")], rows, index, kit, set())
    assert (one.folder, one.names) == ("back/100BRAT", ("N_0002",))


def test_records_of_the_join_hold_what_answers_look_at(trip):
    loaded = load(trip.dump, drafts=False)
    row = records(join(trip.frames, loaded.kit, ()).frames)[0]
    assert {"declaration", "declaration_source", "declared_in", "filters", "lens_id"} <= set(row)
