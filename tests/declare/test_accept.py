"""Marks taken off drafted spans: all else of the file stays to the byte."""

import tomllib

import pytest
from drafting import DOUBT, KIT, NONE, SIX, estimated

from audit.declare.accept import is_meant, with_accepted
from audit.declare.draft import draft
from audit.declare.draft_write import plan
from audit.declare.marks import own_blocks
from audit.errors import AuditError
from audit.kit.read import read_kit


@pytest.fixture
def text(table, tmp_path):
    (tmp_path / "kit.toml").write_text(KIT)
    odd = {**SIX, "lens_id": None}
    frames = estimated(table, NONE, {**SIX, "estimated_sure": "likely"}, DOUBT, SIX, odd, NONE)
    (one,) = draft(frames, read_kit(tmp_path / "kit.toml", None).kit, set())
    return plan(one, tmp_path, None).after


def test_only_what_is_sure_enough_and_can_be_declared_is_meant(text):
    kinds = {
        level: [(b.level, b.kind) for b in own_blocks(text) if is_meant(b, level)]
        for level in ("sure", "likely")
    }
    assert kinds["likely"] == [("likely", "none"), ("likely", ""), ("sure", ""), ("likely", "none")]
    assert kinds["sure"] == [("sure", "")]


@pytest.mark.parametrize(
    "change",
    [
        lambda t: t,
        lambda t: t.replace("\n", "\r\n"),
        lambda t: "\ufeff" + t[t.index("\n\n") + 2 :],
        lambda t: t[:-1],
        lambda t: (t + "\n# mine\n\n[[worn]]\nfiles = ['x']\nnote = '''\n\n[[worn]]\n\n'''\n").replace(
            "\n", "\r\n"
        ),
    ],
)
@pytest.mark.parametrize("bare", [True, False])
def test_the_lines_between_stay_to_the_byte(text, change, bare):
    before = change(text)
    blocks = [b for b in own_blocks(before) if is_meant(b, "likely")]
    assert len(blocks) == 4
    after = with_accepted(before, blocks, "filters.toml", bare=bare)
    assert [b.kind for b in own_blocks(after)] == ["", "unfit"]
    rest = before.split("\n")
    for block in reversed(blocks):
        del rest[block.first : block.last + 1]
    kept = iter(after.removeprefix("\ufeff").split("\n"))
    assert all(line.removeprefix("\ufeff") in kept for line in rest)
    assert after.startswith("\ufeff") == before.startswith("\ufeff")
    assert after.count("\r\n") == (after.count("\n") if "\r\n" in before else 0)
    worn = tomllib.loads(after.removeprefix("\ufeff"))["worn"]
    drafted = [one for one in worn if one["files"] != ["x"]]
    said = {"bare": True} if bare else {"neutral": "none"}
    assert [one.items() >= said.items() or one["slots"] for one in drafted] == [True, ["n6"], ["n6"], True]
    assert all("source" not in one and "unknown" not in one for one in drafted)


OLD = """\
# [[worn]]
# # [draft likely none 6b7b7e99] 92 %: ev100 rose 3.1 while the scene held; 1/8 s at f/8
# # no neutral
# files = ["TARN0130", "TARN0131"]
# unknown = true  # no neutral was on; a grad or polariser may have been
"""
"""As drafts wrote it while there was no key for it."""


@pytest.mark.parametrize(("bare", "said"), [(True, {"bare": True}), (False, {"neutral": "none"})])
def test_what_was_drafted_as_unknown_is_still_known_for_what_it_meant(bare, said):
    (block,) = own_blocks(OLD)
    assert is_meant(block, "likely")
    (worn,) = tomllib.loads(with_accepted(OLD, [block], "filters.toml", bare=bare))["worn"]
    assert worn == {"files": ["TARN0130", "TARN0131"], **said}


def test_a_span_that_would_take_over_keys_is_refused_with_what_to_do(text):
    before = "\n".join(next(b for b in own_blocks(text) if b.comment).lines) + "\n\ninherit = false\n"
    with pytest.raises(AuditError, match=r"move them above the first \[\[worn\]\]"):
        with_accepted(before, own_blocks(before), "filters.toml")
