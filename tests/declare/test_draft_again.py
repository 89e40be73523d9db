"""A draft run again: it replaces what it wrote and nobody touched, and nothing else."""

import tomllib
from pathlib import Path
from types import SimpleNamespace

import pytest
from drafting import DOUBT, KIT, NONE, SIX, estimated
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from audit.declare.draft_write import write
from audit.declare.join import join
from audit.declare.marks import blanked, marked_blocks, own_blocks
from audit.declare.read import load
from audit.errors import AuditError
from audit.jobs.draft import drafted_from

UNSURE = {**NONE, "estimated_sure": "unsure", "estimated_several": True}


@pytest.fixture(scope="module")
def trip(table, tmp_path_factory):
    """A dump with a kit, the frames of one folder with their estimates, and its draft."""
    dump = tmp_path_factory.mktemp("again")
    (dump / "kit.toml").write_text(KIT)
    frames = estimated(table, NONE, NONE, SIX, SIX, DOUBT, NONE, UNSURE, SIX, {**SIX, "lens_id": None}, DOUBT)
    one = SimpleNamespace(dump=dump, frames=frames, path=dump / "100BRAT" / "filters.toml")
    one.path.parent.mkdir()
    draft_again(one)
    one.text = one.path.read_text()
    return one


def draft_again(trip):
    """What `cornerstop draft --write` does once the pictures are estimated."""
    loaded = load(trip.dump, drafts=False)
    joined = join(trip.frames.assign(body="A"), loaded.kit, loaded.declarations)
    drafted = drafted_from(joined.frames, loaded, (), trip.dump, None)
    return [write(change) for change in drafted.changes], drafted


def put(trip, text):
    for path in trip.path.parent.glob("filters.toml*"):
        path.unlink()
    trip.path.write_bytes(text.encode())


def again(trip, text):
    """The file after it stood as given and was drafted again, and once more with no change."""
    put(trip, text)
    draft_again(trip)
    after = trip.path.read_bytes()
    before = sorted(trip.path.parent.iterdir())
    assert draft_again(trip)[0] == []
    assert trip.path.read_bytes() == after and sorted(trip.path.parent.iterdir()) == before
    return after.decode()


def paragraphs(text):
    found = [[]]
    for line in text.removeprefix("\ufeff").replace("\r\n", "\n").split("\n"):
        if line.strip():
            found[-1].append(line)
        elif found[-1]:
            found.append([])
    return ["\n".join(lines) for lines in found if lines]


def test_drafted_twice_it_is_the_same(trip):
    assert again(trip, trip.text) == trip.text
    assert len(own_blocks(trip.text)) == len(paragraphs(trip.text)) - 1 == 8


def test_unedited_spans_give_way_to_the_photographers_own(trip):
    own = '\n[[worn]]\nfiles = ["TARN0103", "TARN0104"]\nbare = true\n'
    after = again(trip, trip.text + own)
    assert after.endswith(own.lstrip()) and '"TARN0103"' not in after.removesuffix(own.lstrip())
    assert len(own_blocks(after)) == len(own_blocks(trip.text)) - 1
    all_of_them = '[[worn]]\nfiles = ["TARN0101", "TARN0110"]\nunknown = true\n'
    put(trip, trip.text + "\n" + all_of_them)
    _, drafted = draft_again(trip)
    assert drafted.silent == 0 and own_blocks(trip.path.read_text()) == []
    assert trip.path.read_text().endswith(all_of_them)


def test_what_the_estimate_says_now_comes_in_the_place_of_what_it_said(trip, table):
    put(trip, trip.text)
    frames = estimated(table, NONE, NONE, SIX, SIX, SIX, NONE, NONE, SIX, SIX, DOUBT)
    draft_again(SimpleNamespace(dump=trip.dump, frames=frames, path=trip.path))
    text = trip.path.read_text()
    assert len(own_blocks(text)) == 5 and 'files = ["TARN0103", "TARN0105"]' in text
    assert len(text.splitlines()) < len(trip.text.splitlines())


@pytest.mark.parametrize(
    "edit",
    [
        ("slots", 'slots = ["n4"]'),
        ("files", 'files = ["TARN0103"]'),
        ('source = "est', "# mine now"),
        ("# # about 6", "# # about 6 stops, I think"),
        ('source = "est', 'source = "estimated"\nhood = "h"\n'),
        ('source = "est', 'source = "estimated"\n\nnote = "mine"'),
        ('source = "est', 'source = "estimated"\n\n# a word\n\nnote = """\n[[worn]]\n"""'),
        ("[[worn]]", "# a word above\n[[worn]]"),
        ("[[worn]]", "[[worn]] # a word"),
        ("ring = ", 'ring = "r77"\n'),
    ],
)
def test_a_touched_span_stays_to_the_byte(trip, edit):
    """The span of the six: the first that declares what was worn."""
    start, instead = edit
    lines = next(b for b in own_blocks(trip.text) if not b.comment and "slots" in b.span).lines
    was = "\n".join(lines)
    at = next(i for i, line in enumerate(lines) if line.startswith(start))
    mine = "\n".join([*lines[:at], instead, *lines[at + 1 :]])
    if "hood" in mine:
        kit = trip.dump / "kit.toml"
        kit.write_text(KIT + '\n[[hood]]\nid = "h"\nlength_mm = 30\nbore_mm = 95\n')
    after = again(trip, trip.text.replace(was, mine, 1))
    assert mine in after and after.count("[[worn]]") >= trip.text.count("[[worn]]")
    (trip.dump / "kit.toml").write_text(KIT)


def test_a_comment_that_was_touched_stays_and_its_frames_are_not_drafted_again(trip):
    line = next(line for line in trip.text.split("\n") if "[draft unsure " in line and "none" not in line)
    text = trip.text.replace(line, f"{line}\n# # the n4, by the fall?", 1)
    assert again(trip, text) == text
    _, drafted = draft_again(trip)
    place = text.split("\n").index(line)
    assert drafted.left == (f"100BRAT/filters.toml:{place}",)


def test_changed_spans_that_still_call_themselves_an_estimate_are_told(trip):
    put(trip, trip.text.replace('slots = ["n6"]', 'slots = ["n4"]', 1))
    _, drafted = draft_again(trip)
    assert len(drafted.estimated) == 1 and drafted.left == ()


@pytest.mark.parametrize(
    "change", [lambda t: t.replace("\n", "\r\n"), lambda t: "\ufeff" + t, lambda t: t[:-1]]
)
def test_line_ends_and_byte_order_mark_do_not_touch(trip, change):
    assert again(trip, change(trip.text)) == change(trip.text)
    headless = trip.text[trip.text.index("\n\n") + 2 :]
    assert again(trip, change(headless)) == change(headless)


def test_a_span_that_declares_takes_over_no_key_that_stands_below(trip, table):
    """A comment becomes a span: what follows it would fall into the span's table."""
    comment = own_blocks(trip.text)[2]
    assert comment.comment and "TARN0105" in comment.lines[4]
    text = "\n".join(comment.lines) + '\n\ninherit = false\n\n[[worn]]\nfiles = ["TARN0101"]\nbare = true\n'
    put(trip, text)
    frames = estimated(table, SIX, SIX, SIX, SIX, SIX, SIX, SIX, SIX, SIX, SIX)
    draft_again(SimpleNamespace(dump=trip.dump, frames=frames, path=trip.path))
    data = tomllib.loads(trip.path.read_text())
    assert data["inherit"] is False and data["worn"][0] == {"files": ["TARN0101"], "bare": True}


def test_a_span_quoted_in_a_note_is_a_note(trip):
    block = "\n".join(own_blocks(trip.text)[1].lines)
    note = f"[[worn]]\nfiles = [\"TARN0101\"]\nbare = true\nnote = '''\n\n{block}\n\n'''\n"
    assert again(trip, note).startswith(note)


def test_a_file_changed_meanwhile_is_left(trip):
    put(trip, trip.text + '\n[[worn]]\nfiles = ["TARN0103", "TARN0104"]\nbare = true\n')
    loaded = load(trip.dump, drafts=False)
    joined = join(trip.frames.assign(body="A"), loaded.kit, loaded.declarations)
    (change,) = drafted_from(joined.frames, loaded, (), trip.dump, None).changes
    trip.path.write_text("# just now\n")
    with pytest.raises(AuditError, match="changed meanwhile"):
        write(change)
    assert trip.path.read_text() == "# just now\n"


def test_line_numbers_of_mistakes_stay(trip):
    text = trip.text + '\n[[worn]]\nfiles = ["TARN0103"]\nbare = 3\n'
    put(trip, text)
    with pytest.raises(AuditError, match=f":{len(text.splitlines())}: "):
        load(trip.dump, drafts=False)
    assert len(blanked(text).split("\n")) == len(text.split("\n"))


MINE = [
    "# mine",
    "",
    "note = 'mine'",
    "bare = true",
    '[[worn]]\nfiles = ["TARN0102"]\nbare = true',
    '[[worn]]\ntimes = [2026-05-02T10:02:00, 2026-05-02T10:04:00]\nbare = true\nnote = """\n\n# mine\n\n"""',
    "inherit = false",
    "# [[worn]]",
    "\ufeff",
    "   ",
    "# # [draft sure 00000000] 99 %: mine",
]
edits = st.lists(
    st.tuples(
        st.sampled_from(["insert", "join", "delete", "uncomment", "twist", "copy", "move", "crlf"]),
        st.integers(0, 80),
        st.integers(0, 80),
        st.sampled_from(MINE),
    ),
    min_size=1,
    max_size=6,
)


def edited(text, changes):
    """The text as somebody with an editor leaves it."""
    for what, at, other, words in changes:
        lines = text.split("\n")
        at, other = at % len(lines), other % len(lines)
        first, last = min(at, other), max(at, other)
        if what == "insert":
            lines[at:at] = ["", words, ""]
        elif what == "join":
            lines[at:at] = [words]
        elif what == "delete":
            del lines[at]
        elif what == "uncomment":
            lines[first : last + 1] = [line.removeprefix("# ") for line in lines[first : last + 1]]
        elif what == "twist":
            lines[at] = lines[at].replace("n6", "n4").replace("likely", "sure").replace("_010", "_011")
        elif what == "copy":
            lines[at:at] = ["", *lines[first : last + 1], ""]
        elif what == "move":
            lines[at:at] = [lines.pop(other)]
        elif what == "crlf":
            lines = [line.removesuffix("\r") + "\r" for line in lines]
            lines[-1] = lines[-1].removesuffix("\r")
        text = "\n".join(lines)
    return text


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(edits)
@example([("insert", 70, 0, MINE[5]), ("copy", 71, 80, "")])
def test_nothing_of_the_photographers_is_lost_whatever_was_edited(trip, changes):
    text = edited(trip.text, changes)
    put(trip, text)
    try:
        theirs = tomllib.loads(text)
        after = again(trip, text)
    except (tomllib.TOMLDecodeError, AuditError):
        assert trip.path.read_bytes() == text.encode()
        assume(False)
    drafted = set(paragraphs(trip.text)[1:])
    mine = [one for one in paragraphs(text) if one not in drafted]
    rest = "\n\n".join(paragraphs(after))
    for one in mine:
        assert one in rest
        rest = rest[rest.index(one) + len(one) :]  # in their order
    said = [worn for worn in theirs.get("worn", []) if worn.get("source") != "estimated"]
    data = tomllib.loads(after)
    left = [worn for worn in data.get("worn", []) if worn.get("source") != "estimated"]
    assert left == said
    assert {k: v for k, v in data.items() if k != "worn"} == {k: v for k, v in theirs.items() if k != "worn"}
    texts = ["\n".join(block.lines) for block in own_blocks(after)]
    assert len(set(texts)) == len(texts)
    backup = Path(f"{trip.path}.bak")
    assert after == text or backup.read_bytes() == text.encode()


def test_marks_tell_what_was_drafted_and_touched(trip):
    blocks = marked_blocks(trip.text.replace("0 %", "1 %"))
    assert [b.own for b in blocks] == ["0 %" not in b.lines[1] for b in own_blocks(trip.text)]
    assert {b.level for b in blocks} == {"sure", "likely", "unsure"}
