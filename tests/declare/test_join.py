"""Each frame gets one declaration or none, with the reason: borders, times, bodies, folders."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from audit.declare import Joined, add_gear, join, load
from audit.errors import DeclarationError
from audit.kit.kit import Kit
from audit.table.columns import GEAR, JOIN, SCAN

A = {"body_serial": "3001234"}
B = {"body_serial": "3009999"}
Declare = Callable[[dict[str, str]], Any]


def joined(frames: pd.DataFrame, kit: Kit, declarations: Any) -> Joined:
    return join(add_gear(frames, kit), kit, declarations)


def states(result: Joined) -> dict[str, str]:
    """Last four characters of each frame's name, and its declaration."""
    frames = result.frames
    return {name[-4:]: state for name, state in zip(frames["frame"], frames["declaration"], strict=True)}


def with_state(result: Joined, state: str) -> list[str]:
    return [name for name, found in states(result).items() if found == state]


def reasons(result: Joined) -> list[str]:
    return result.frames["undeclared_reason"].dropna().unique().tolist()


def bare(files: str = "", times: str = "", more: str = "") -> str:
    span = f"files = [{files}]" if files else f"times = [{times}]"
    return f"[[worn]]\n{span}\nbare = true\n{more}\n"


def test_columns_and_a_worn_frame(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    text = """
    [[worn]]
    files = ["TARN0101", "TARN0102"]
    ring = "r77"
    holder = "main"
    slots = ["n10", "g2hard"]
    front = "pol"
    """
    result = joined(scanned(run("day1", 101, 103, "2026-05-02 10:00", **A)), kit, declare({"day1": text}))
    assert list(result.frames) == [c.name for c in (*SCAN, *GEAR, *JOIN)]
    row = result.frames.iloc[1]
    assert (row["declaration"], row["declaration_source"]) == ("worn", "photographer")
    assert row["declared_in"] == "day1/filters.toml:2"
    assert (row["even_stops_min"], row["even_stops_max"], row["grad_stops"]) == (11, 12, 2)
    assert row["filters"] == ["n10", "g2hard", "pol"]
    assert row["rig_words"] == result.rigs[row["rig"]].words
    assert row["stops_words"] == result.rigs[row["rig"]].stops_words
    left = result.frames.iloc[2]
    assert left["declaration"] == "undeclared" and left["filters"] == []
    assert left["undeclared_reason"] == "no span of day1/filters.toml covers it"
    assert left[["rig", "declaration_source", "declared_in", "rig_words", "even_stops_min"]].isna().all()
    assert not result.mistakes


def test_file_spans_include_both_ends(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    frames = scanned(run("day1", 101, 106, "2026-05-02 10:00", **A))
    for written in ('"TARN0102", "TARN0104"', '"tarn0102.nef", "day1/TARN0104.JPG"'):
        result = joined(frames, kit, declare({"day1": bare(written)}))
        assert with_state(result, "bare") == ["0102", "0103", "0104"]
    assert with_state(joined(frames, kit, declare({"day1": bare('"TARN0106"')})), "bare") == ["0106"]


def test_time_spans_are_half_open(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    frames = scanned(run("day1", 101, 106, "2026-05-02 10:00", **A))
    times = "2026-05-02T10:01:00, 2026-05-02T10:03:00"
    assert with_state(joined(frames, kit, declare({"day1": bare(times=times)})), "bare") == ["0102", "0103"]
    meeting = bare(times=times) + bare(times="2026-05-02T10:03:00, 2026-05-02T10:04:00", more="note = 'next'")
    result = joined(frames, kit, declare({"day1": meeting}))
    assert with_state(result, "bare") == ["0102", "0103", "0104"] and not result.mistakes


def test_sub_seconds_count_at_the_border(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    rows = run("d", 1, 2, "2026-05-02 10:00:59.999", step_s=0.001, **A)
    times = "2026-05-02T10:00:00, 2026-05-02T10:01:00"
    assert with_state(joined(scanned(rows), kit, declare({"d": bare(times=times)})), "bare") == ["0001"]


def test_counter_wrap_and_folder_change(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    wrapped = scanned(run("day1", 9997, 3, "2026-05-02 10:00", **A))
    result = joined(wrapped, kit, declare({"day1": bare('"TARN9998", "TARN0002"')}))
    assert with_state(result, "bare") == ["9998", "9999", "0001", "0002"]
    rows = run("DCIM/100BRAT", 9997, 9999, "2026-05-02 10:00", **A)
    rows += run("DCIM/101BRAT", 1, 3, "2026-05-02 09:00", **A)  # the clock was set back on the way
    result = joined(scanned(rows), kit, declare({".": bare('"TARN9999", "TARN0002"')}))
    assert with_state(result, "bare") == ["9999", "0001", "0002"]
    assert with_state(
        joined(scanned(rows[::-1]), kit, declare({".": bare('"TARN9999", "TARN0002"')})), "bare"
    ) == [
        "0002",
        "0001",
        "9999",
    ]


def test_frames_without_a_time(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    rows = run("day1", 101, 104, "2026-05-02 10:00", **A)
    rows[1]["captured_at"] = rows[3]["captured_at"] = None
    by_file = joined(scanned(rows), kit, declare({"day1": bare('"TARN0101", "TARN0103"')}))
    assert with_state(by_file, "bare") == ["0101", "0102", "0103"]
    times = "2026-05-02T10:00:00, 2026-05-02T11:00:00"
    by_time = joined(scanned(rows), kit, declare({"day1": bare(times=times)}))
    assert with_state(by_time, "bare") == ["0101", "0103"]
    assert reasons(by_time) == [
        "no span of day1/filters.toml covers it; it has no time, so only a span by file names can"
    ]


def test_an_unreadable_file_lies_between_its_neighbours(
    kit: Kit, declare: Declare, scanned: Any, run: Any
) -> None:
    rows = run("day1", 101, 103, "2026-05-02 10:00", **A)
    rows[1] |= {"captured_at": None, "model": None, "lens": None, "body_serial": None, "problem": "damaged"}
    result = joined(scanned(rows), kit, declare({"day1": bare('"TARN0101", "TARN0103"')}))
    assert with_state(result, "bare") == ["0101", "0102", "0103"]
    assert result.frames["body"].isna().tolist() == [False, True, False]


def test_two_bodies_in_one_folder(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    rows = run("day1", 101, 103, "2026-05-02 10:00", **A)
    rows += run("day1", 101, 103, "2026-05-02 10:00", prefix="TARB", **B)
    result = joined(scanned(rows), kit, declare({"day1": bare('"TARN0101", "TARN0103"')}))
    assert result.frames["declaration"].tolist() == ["bare"] * 3 + ["undeclared"] * 3
    times = "2026-05-02T10:00:00, 2026-05-02T11:00:00"
    of_b = joined(scanned(rows), kit, declare({"day1": bare(times=times, more='body = "B"')}))
    assert of_b.frames["declaration"].tolist() == ["undeclared"] * 5 + ["bare"]  # 95 s ahead
    both = joined(scanned(rows), kit, declare({"day1": bare(times=times)}))
    assert both.frames["declaration"].tolist() == ["bare"] * 3 + ["undeclared"] * 2 + ["bare"]


def test_clocks_apart_are_brought_to_true_time(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    """Body B is 95 s ahead: its 10:01:35 is 10:00:00."""
    rows = run("day1", 1, 2, "2026-05-02 10:01:34", step_s=1, prefix="TARB", **B)
    rows += run("day1", 3, 4, "2026-05-02 09:59:59", step_s=1, prefix="TARN", **A)
    times = "2026-05-02T10:00:00, 2026-05-02T10:30:00"
    result = joined(scanned(rows), kit, declare({"day1": bare(times=times)}))
    assert with_state(result, "bare") == ["0002", "0004"]


def test_same_names_of_two_bodies_need_the_body(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    rows = run("100BRAT", 101, 102, "2026-05-02 10:00", **A) + run(
        "200BRAT", 101, 102, "2026-05-02 10:00", **B
    )
    result = joined(scanned(rows), kit, declare({".": bare('"TARN0101", "TARN0102"')}))
    assert set(result.frames["declaration"]) == {"undeclared"}
    assert reasons(result) == [
        "filters.toml:1 has a mistake: the names fit body A and body B; say which with body = ..."
    ]
    named = joined(scanned(rows), kit, declare({".": bare('"TARN0101", "TARN0102"', more='body = "B"')}))
    assert named.frames["declaration"].tolist() == ["undeclared"] * 2 + ["bare"] * 2
    foldered = joined(scanned(rows), kit, declare({".": bare('"100BRAT/TARN0101", "TARN0102"')}))
    assert foldered.frames["declaration"].tolist() == ["bare"] * 2 + ["undeclared"] * 2


def test_labels_without_a_kit(declare: Declare, scanned: Any, run: Any) -> None:
    rows = run("d", 1, 2, "2026-05-02 10:00", **A) + run("d", 3, 4, "2026-05-02 10:00", **B)
    times = "2026-05-02T10:00:00, 2026-05-02T11:00:00"
    for label in ("B", "body B"):
        spans = declare({"d": bare(times=times, more=f'body = "{label}"')})
        result = joined(scanned(rows), Kit(), spans)
        assert result.frames["body"].tolist() == ["body A", "body A", "body B", "body B"]
        assert with_state(result, "bare") == ["0003", "0004"]


def test_time_zone_change_with_offsets(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    """Before the flight at +02:00, after it at -04:00; spans in UTC take each frame once."""
    rows = run("d", 1, 3, "2026-05-02 14:00", step_s=3600, utc_offset_min=120, **A)  # 12, 13, 14 UTC
    rows += run("d", 4, 6, "2026-05-02 11:00", step_s=3600, utc_offset_min=-240, **A)  # 15, 16, 17 UTC
    result = joined(
        scanned(rows),
        kit,
        declare({"d": bare(times="2026-05-02T14:00:00Z, 2026-05-02T12:00:00-04:00")}),
    )
    assert with_state(result, "bare") == ["0003", "0004"]
    by_name = joined(scanned(rows), kit, declare({"d": bare('"TARN0002", "TARN0005"')}))
    assert with_state(by_name, "bare") == ["0002", "0003", "0004", "0005"]


DST = "2026-10-25"


def dst_rows(run: Any, offsets: bool) -> list[dict[str, Any]]:
    """02:10, 02:30, 02:50 in summer time, then the same wall clock again in winter time."""
    rows = run("d", 1, 3, f"{DST} 02:10", step_s=1200, **A) + run("d", 4, 6, f"{DST} 02:10", step_s=1200, **A)
    for row, minutes in zip(rows, [120] * 3 + [60] * 3, strict=True):
        row["utc_offset_min"] = minutes if offsets else None
    return rows


def test_the_hour_that_comes_twice_with_offsets(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    frames = scanned(dst_rows(run, offsets=True))
    second = declare({"d": bare(times=f"{DST}T02:20:00+01:00, {DST}T02:40:00+01:00")})
    assert with_state(joined(frames, kit, second), "bare") == ["0005"]
    across = declare({"d": bare(times=f"{DST}T02:40:00+02:00, {DST}T02:20:00+01:00")})
    assert with_state(joined(frames, kit, across), "bare") == ["0003", "0004"]


@pytest.mark.parametrize("offsets", [True, False])
def test_the_hour_that_comes_twice_by_the_wall_clock(
    kit: Kit, declare: Declare, scanned: Any, run: Any, offsets: bool
) -> None:
    spans = declare({"d": bare(times=f"{DST}T02:20:00, {DST}T02:40:00")})
    result = joined(scanned(dst_rows(run, offsets)), kit, spans)
    assert with_state(result, "bare") == ["0002", "0005"]
    wide = declare({"d": bare(times=f"{DST}T02:00:00, {DST}T03:00:00")})
    result = joined(scanned(dst_rows(run, offsets)), kit, wide)
    assert len(with_state(result, "bare")) == 6
    assert [str(m) for m in result.mistakes] == [
        "d/filters.toml:2: worn.times: between TARN0003 and TARN0004 the clock was set back, so the span "
        "covers both passes; times with an offset, or file names, tell them apart"
    ]


def test_a_span_in_utc_needs_the_frames_offset(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    """A frame without an offset may lie in the span wherever the camera was; far from it, it cannot."""
    rows = run("d", 1, 1, f"{DST} 02:30", **A) + run("d", 2, 2, "2026-10-28 02:30", **A)
    spans = {
        "d": bare(times=f"{DST}T02:20:00+01:00, {DST}T02:40:00+01:00"),
        ".": bare('"TARN0001", "TARN0002"'),
    }
    result = joined(scanned(rows), kit, declare(spans))
    assert states(result) == {"0001": "undeclared", "0002": "bare"}
    assert reasons(result) == [
        "d/filters.toml:1 may cover it: the span's times have an offset from UTC, the frame's time has none"
    ]


def test_parents_span_and_inherit_false(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    rows = run("trip/day1", 1, 3, "2026-05-02 10:00", **A) + run(
        "trip/day1/dawn", 4, 5, "2026-05-02 11:00", **A
    )
    frames = scanned(rows)
    top = bare('"TARN0001", "TARN0005"')
    own = "[[worn]]\nfiles = ['TARN0002']\nunknown = true\n"
    result = joined(frames, kit, declare({".": top, "trip/day1": own}))
    assert list(states(result).values()) == ["bare", "unknown", "bare", "bare", "bare"]
    assert result.frames["declared_in"].tolist()[:2] == ["filters.toml:1", "trip/day1/filters.toml:1"]
    stopped = joined(frames, kit, declare({".": top, "trip/day1": "inherit = false\n" + own}))
    assert list(states(stopped).values()) == ["undeclared", "unknown", *["undeclared"] * 3]
    assert reasons(stopped) == [
        "no span of trip/day1/filters.toml covers it, and inherit = false stops there"
    ]
    beside = joined(frames, kit, declare({".": "", "trip/day1": "", "trip/day1/dawn": "inherit = false"}))
    assert reasons(beside) == [
        "no span of trip/day1/filters.toml or filters.toml covers it",
        "no span of trip/day1/dawn/filters.toml covers it, and inherit = false stops there",
    ]


def test_a_folder_is_not_its_namesakes_parent(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    rows = run("day1", 1, 1, "2026-05-02 10:00", **A) + run("day10", 2, 2, "2026-05-02 11:00", **A)
    result = joined(
        scanned(rows), kit, declare({"day1": bare(times="2026-05-02T00:00:00, 2026-05-03T00:00:00")})
    )
    assert states(result) == {"0001": "bare", "0002": "undeclared"}
    assert reasons(result) == ["no filters.toml in its folder or above it"]


def test_unknown_is_a_statement_without_stops(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    text = "[[worn]]\nfiles = ['TARN0001']\nunknown = true\n"
    result = joined(scanned(run("d", 1, 1, "2026-05-02 10:00", **A)), kit, declare({"d": text}))
    row = result.frames.iloc[0]
    assert (row["declaration"], row["rig_words"], row["stops_words"]) == ("unknown", "not known", "not known")
    assert pd.isna(row["even_stops_min"]) and row["rig"] in result.rigs


def test_without_a_neutral_only_the_neutrals_are_known(
    kit: Kit, declare: Declare, scanned: Any, run: Any
) -> None:
    text = "[[worn]]\nfiles = ['TARN0001']\nneutral = 'none'\n"
    text += "[[worn]]\nfiles = ['TARN0002']\nneutral = 'none'\nsource = 'estimated'\n" + bare('"TARN0003"')
    result = joined(scanned(run("d", 1, 3, "2026-05-02 10:00", **A)), kit, declare({"d": text}))
    frames = result.frames
    assert frames["declaration"].tolist() == ["no-neutral", "no-neutral", "bare"]
    assert frames["declaration_source"].tolist() == ["photographer", "estimated", "photographer"]
    assert frames["neutral_stops"].tolist() == [0.0, 0.0, 0.0]
    for column in ("even_stops_min", "even_stops_max", "grad_stops"):
        assert frames[column].isna().tolist() == [True, True, False]
    assert frames["filters"].tolist() == [[], [], []] and frames["rig"].nunique() == 3
    assert not result.mistakes


def test_estimated_spans_stay_estimated(kit: Kit, declare: Declare, scanned: Any, run: Any) -> None:
    spans = declare({"d": bare('"TARN0001"', more='source = "estimated"') + bare('"TARN0002"')})
    result = joined(scanned(run("d", 1, 3, "2026-05-02 10:00", **A)), kit, spans)
    assert result.frames["declaration_source"].tolist()[:2] == ["estimated", "photographer"]
    assert result.frames["declaration_source"].isna()[2]
    assert len(result.rigs) == 2


def test_overlapping_spans_name_both_and_cover_nothing_twice(
    kit: Kit, declare: Declare, scanned: Any, run: Any
) -> None:
    text = bare('"TARN0001", "TARN0003"') + bare('"TARN0003", "TARN0005"')
    result = joined(
        scanned(run("d", 1, 5, "2026-05-02 10:00", **A)), kit, declare({"d": text, ".": bare('"TARN0001"')})
    )
    assert with_state(result, "undeclared") == ["0003"]
    assert reasons(result) == ["d/filters.toml:1 and d/filters.toml:5 both cover it"]
    assert [str(m) for m in result.mistakes] == [
        "d/filters.toml:6: worn.files: covers 1 frame that the span of d/filters.toml:1 covers too "
        "(TARN0003); end one before the other begins"
    ]


def test_a_span_with_a_mistake_does_not_let_the_parent_in(
    kit: Kit, declare: Declare, scanned: Any, run: Any
) -> None:
    frames = scanned(run("d", 1, 4, "2026-05-02 10:00", **A))
    top = bare('"TARN0001", "TARN0004"')
    result = joined(frames, kit, declare({".": top, "d": bare('"TARN0003", "TARN0002"')}))
    assert list(states(result).values()) == ["bare", "undeclared", "undeclared", "bare"]
    lost = joined(
        frames, kit, declare({".": top, "d": bare('"TARN0009"') + bare('"TARN0001"', more="note = ''")})
    )
    assert list(states(lost).values()) == ["bare", *["undeclared"] * 3]


def test_a_ring_that_the_frames_lens_has_no_thread_for(
    kit: Kit, declare: Declare, scanned: Any, run: Any
) -> None:
    rows = run("d", 1, 2, "2026-05-02 10:00", **A)
    rows += run("d", 3, 4, "2026-05-02 10:10", lens="SUND 70-200 MM  f4", **A)
    text = "[[worn]]\nfiles = ['TARN0001', 'TARN0004']\nring = 'r77'\nholder = 'main'\n"
    result = joined(scanned(rows), kit, declare({"d": text}))
    assert list(states(result).values()) == ["worn", "worn", "undeclared", "undeclared"]
    assert reasons(result) == [
        'd/filters.toml:1 has a mistake: ring "r77" screws into 77 mm, but lens "t70" has 72 mm'
    ]
    stepped = text.replace("ring =", "behind = ['s72-77']\nring =")
    fits = joined(scanned(rows), kit, declare({"d": stepped}))
    assert list(states(fits).values()) == ["undeclared", "undeclared", "worn", "worn"]


def test_warnings_do_not_take_the_declaration_away(
    kit: Kit, declare: Declare, scanned: Any, run: Any
) -> None:
    text = "[[worn]]\nfiles = ['TARN0001']\nring = 'r77'\nholder = 'main'\nslots = ['g2hard', 'n10']\n"
    result = joined(scanned(run("d", 1, 1, "2026-05-02 10:00", **A)), kit, declare({"d": text}))
    assert states(result) == {"0001": "worn"}
    assert [(m.level, m.key) for m in result.mistakes] == [("warning", "worn.slots")]


def test_a_declaration_without_a_kit_says_so(tmp_path: Path) -> None:
    (tmp_path / "filters.toml").write_text("[[worn]]\nfiles = ['TARN0001']\nring = 'r77'\n")
    with pytest.raises(DeclarationError, match="there is no kit to look it up in"):
        load(tmp_path)


def test_no_frames_and_no_declarations(kit: Kit, scanned: Any, run: Any) -> None:
    empty = joined(scanned([]), kit, [])
    assert len(empty.frames) == 0 and list(empty.frames) == [c.name for c in (*SCAN, *GEAR, *JOIN)]
    result = joined(scanned(run("d", 1, 1, "2026-05-02 10:00", **A)), kit, [])
    assert reasons(result) == ["no filters.toml in its folder or above it"]


def test_same_input_same_answer(kit: Kit, declare: Declare, scanned: Any, run: Any, tmp_path: Path) -> None:
    declare({"d": bare('"TARN0001", "TARN0002"')})
    frames = scanned(run("d", 1, 3, "2026-05-02 10:00", **A))
    before = frames.copy(deep=True)
    one, other = (joined(frames, kit, load(tmp_path).declarations) for _ in range(2))
    pd.testing.assert_frame_equal(one.frames, other.frames)
    pd.testing.assert_frame_equal(frames, before)
    assert list(one.rigs) == list(other.rigs)


def test_a_declaration_on_either_card_of_a_body_covers_its_frames(
    kit: Kit, declare: Declare, scanned: Any, run: Any
) -> None:
    rows = [
        {**row, "files": [f"{row['frame']}.JPG", row["frame"].replace("CARD2", "CARD1") + ".NEF"]}
        for row in run("CARD2/100BRAT", 101, 103, "2026-05-02 10:00", **A)
    ]
    for card in ("CARD1", "CARD2"):
        declarations = declare({f"{card}/100BRAT": bare('"TARN0101", "TARN0102"')})
        result = joined(scanned(rows), kit, declarations)
        assert with_state(result, "bare") == ["0101", "0102"]
        assert not result.mistakes
