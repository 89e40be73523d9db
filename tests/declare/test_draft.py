"""Drafts of declarations: read back as they are written, and never a word of the photographer's changed."""

import pytest
from drafting import DOUBT, KIT, KNOWN, NONE, SIX, estimated

from audit.declare.draft import draft
from audit.declare.draft_rig import rig_lines
from audit.declare.draft_write import plan, write
from audit.declare.join import join
from audit.declare.questions import questions
from audit.declare.read import load
from audit.errors import AuditError
from audit.kit.kit import Kit
from audit.kit.read import read_kit


@pytest.fixture
def dump(tmp_path):
    (tmp_path / "dump" / "100BRAT").mkdir(parents=True)
    (tmp_path / "dump" / "kit.toml").write_text(KIT)
    return tmp_path / "dump"


@pytest.fixture
def kit(dump):
    return read_kit(dump / "kit.toml", None).kit


def test_a_draft_is_read_back_as_estimated_spans_of_the_same_frames(table, dump, kit):
    frames = estimated(table, SIX, SIX, NONE, DOUBT, {**SIX, "estimated_sure": "likely"})
    for one in draft(frames, kit, set()):
        write(plan(one, dump, None))
    text = (dump / "100BRAT" / "filters.toml").read_text()
    assert 'files = ["TARN0101", "TARN0102"]' in text
    loaded = load(dump)
    assert not loaded.warnings
    joined = join(frames.assign(body="A"), loaded.kit, loaded.declarations).frames
    assert joined["declaration"].tolist() == ["worn", "worn", "no-neutral", "undeclared", "worn"]
    assert joined["declaration_source"].dropna().tolist() == ["estimated"] * 4
    assert joined["filters"].tolist()[4] == ["n6"]


def uncommented(text):
    """The first mark of each line taken off, as an editor does."""
    return "".join(line.removeprefix("# ") for line in text.splitlines(keepends=True))


def test_a_whole_file_without_its_first_marks_is_a_declaration_and_says_bare_nowhere(table, dump, kit):
    odd = {**SIX, "lens_id": None, "estimated_words": "a\x1b[31m line\nand another"}
    frames = estimated(table, NONE, SIX, DOUBT, {**NONE, "estimated_sure": "unsure"}, odd, NONE)
    for one in draft(frames, kit, set()):
        write(plan(one, dump, None))
    path = dump / "100BRAT" / "filters.toml"
    before = path.read_text()
    path.write_text(uncommented(before))
    loaded = load(dump)
    assert not loaded.warnings
    joined = join(frames.assign(body="A"), loaded.kit, loaded.declarations).frames
    none = "no-neutral"
    assert joined["declaration"].tolist() == [none, "worn", "worn", none, "unknown", none]
    assert joined["declaration_source"].tolist() == [*["estimated"] * 4, "photographer", "estimated"]
    assert "\nbare = " not in before and "\nbare = " not in path.read_text()
    assert before.count('\nneutral = "none"  # a grad or polariser may have been on\nsource = ') == 2
    assert before.count('\n# neutral = "none"  # a grad or polariser may have been on\n# source = ') == 1


def test_neighbours_that_say_the_same_are_one_span(table, kit):
    told = {**NONE, "estimated_plain": "no neutral; or about 4 stops: n4", "lens_id": None}
    likely = {**SIX, "estimated_sure": "likely", "estimated_probability": 0.85}
    (one,) = draft(estimated(table, NONE, told, NONE, SIX, likely, NONE), kit, set())
    assert [len(span.frames) for span in one.spans] == [3, 2, 1]
    assert "[draft likely none " in one.spans[0].text
    assert "# # no neutral\n# # no neutral; or about 4 stops: n4\n" in one.spans[0].text
    assert "[draft likely " in one.spans[1].text and "] 85 %:" in one.spans[1].text


def test_frames_of_other_lenses_or_folders_or_with_a_marker_between_are_other_spans(table, kit):
    marker = {**SIX, "sequence": "marker"}
    other = {**SIX, "lens_id": "m21"}
    (one,) = draft(estimated(table, SIX, marker, SIX, other), kit, set())
    assert [len(span.frames) for span in one.spans] == [1, 1, 1]


def test_a_photographers_declaration_only_grows_and_only_when_asked(table, dump, kit):
    own = '# mine\n[[worn]]\r\nfiles = ["TARN0103"]   # the six\r\nring = "r77"\r\n'
    own += 'holder = "main"\r\nslots = ["n6"]\r\n'
    path = dump / "100BRAT" / "filters.toml"
    path.write_bytes(own.encode())
    frames = estimated(table, NONE, NONE, {**SIX, **KNOWN}, SIX)
    (one,) = draft(frames, kit, {"100BRAT"})
    change = plan(one, dump, None)
    assert path.read_bytes() == own.encode()
    assert all(not line.startswith("-") for line in change.diff.splitlines()[2:])
    backup = write(change)
    assert backup is not None
    assert backup.read_bytes() == own.encode()
    after = path.read_bytes().decode()
    assert after.startswith(own)
    assert "\n" not in after.removeprefix(own).replace("\r\n", "")
    assert "Drafted from the exposures" not in after


def test_with_a_mirror_the_dump_stays_as_it_is(table, dump, kit, tmp_path):
    own = '[[worn]]\nfiles = ["TARN0101"]\nbare = true\n'
    (dump / "100BRAT" / "filters.toml").write_text(own)
    (one,) = draft(estimated(table, {**NONE, **KNOWN}, SIX), kit, {"100BRAT"})
    assert write(plan(one, dump, tmp_path / "notes")) is None
    mirrored = (tmp_path / "notes" / "100BRAT" / "filters.toml").read_text()
    assert mirrored.startswith(own)
    assert 'slots = ["n6"]' in mirrored
    assert (dump / "100BRAT" / "filters.toml").read_text() == own


def test_a_file_changed_meanwhile_is_not_overwritten(table, dump, kit):
    (one,) = draft(estimated(table, SIX), kit, set())
    change = plan(one, dump, None)
    (dump / "100BRAT" / "filters.toml").write_text("# just now\n")
    with pytest.raises(AuditError, match="changed meanwhile"):
        write(change)
    assert (dump / "100BRAT" / "filters.toml").read_text() == "# just now\n"


def test_a_declaration_above_takes_the_spans_with_the_folder_in_their_names(table, kit):
    (one,) = draft(estimated(table, SIX), kit, {"."})
    assert one.folder == "."
    assert 'files = ["100BRAT/TARN0101"]' in one.spans[0].text


def test_questions_ask_for_what_settles_most_over_the_whole_trip_first(table, kit):
    here, there = {**DOUBT, "setup": "here"}, {**DOUBT, "setup": "there"}
    frames = estimated(table, here, SIX, there, there, SIX, here, SIX, here, {**SIX, "setup": "there"})
    asked = questions(draft(frames, kit, set()))
    assert [(q.text, q.settles) for q in asked] == [
        ("TARN0101 (1 frame, and 2 more like them): about 4 stops: n4; or no neutral?", 3),
        ("TARN0103 to TARN0104 (2 frames): about 4 stops: n4; or no neutral?", 2),
    ]


def test_a_span_over_two_setups_settles_both_and_frames_without_one_stand_alone(table, kit):
    here, there = {**DOUBT, "setup": "here"}, {**DOUBT, "setup": "there"}
    other = {**DOUBT, "setup": "here", "estimated_sets": ["n6"]}
    frames = estimated(table, here, there, SIX, DOUBT, DOUBT, SIX, there, SIX, other)
    asked = questions(draft(frames, kit, set()))
    assert [(len(q.text) > 0, q.settles) for q in asked] == [(True, 3), (True, 2), (True, 1)]


def test_nothing_is_drafted_where_the_photographer_spoke_or_nothing_was_estimated(table, kit):
    frames = estimated(table, {**SIX, **KNOWN}, {"estimated_class": None, "estimated_sets": []})
    assert draft(frames, kit, set()) == []


def test_the_rig_is_one_the_kit_can_carry(kit):
    lens = kit.lens("w16")
    six = rig_lines(kit, lens, ("g2", "n6"))
    assert six.lines == ('ring = "r77"', 'holder = "main"', 'slots = ["n6", "g2"]')
    assert six.rings == ("r77low",)
    assert rig_lines(kit, lens, ("pol",)).lines[-1] == 'front = "pol"'
    assert rig_lines(kit, None, ()).lines == ()
    assert "slots enough" in rig_lines(kit, lens, ("n6", "n4", "g2")).why
    assert "not in the kit" in rig_lines(kit, None, ("n6",)).why
    assert rig_lines(Kit(), lens, ("n6",)).why
