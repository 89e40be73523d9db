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
def test_the_lines_between_stay_to_the_byte(text, change):
    before = change(text)
    blocks = [b for b in own_blocks(before) if is_meant(b, "likely")]
    assert len(blocks) == 4
    after = with_accepted(before, blocks, "filters.toml")
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
    assert [one.get("bare") or one["slots"] for one in drafted] == [True, ["n6"], ["n6"], True]
    assert all("source" not in one and "unknown" not in one for one in drafted)


def test_a_span_that_would_take_over_keys_is_refused_with_what_to_do(text):
    before = "\n".join(own_blocks(text)[0].lines) + "\n\ninherit = false\n"
    with pytest.raises(AuditError, match=r"move them above the first \[\[worn\]\]"):
        with_accepted(before, own_blocks(before), "filters.toml")
