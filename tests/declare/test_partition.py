"""For any set of spans and frames the join is a partition: each frame once, nothing else changed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.declare import add_gear, join
from audit.declare.worn import Declaration, Worn
from audit.kit.kit import Kit
from audit.table.columns import GEAR, SCAN

FOLDERS = [".", "day1", "day1/dawn", "day2", "DCIM/100BRAT", "DCIM/101BRAT"]
START = datetime(2026, 10, 25, 1, 0)
NAMES = [f"{prefix}{n:04d}" for prefix in ("TARN", "TARB") for n in (1, 2, 3, 4, 9998, 9999)]

frames = st.lists(
    st.fixed_dictionaries(
        {
            "folder": st.sampled_from(FOLDERS),
            "name": st.sampled_from(NAMES),
            "captured_at": st.none() | st.integers(0, 180).map(lambda m: START + timedelta(minutes=m)),
            "utc_offset_min": st.sampled_from([None, 60, 120]),
            "body_serial": st.sampled_from([None, "3001234", "3009999"]),
            "model": st.sampled_from([None, "Brattholm Tarn", "Brattholm Tarn", "Other"]),
            "lens": st.sampled_from([None, "Sund 16-35 mm f4", "Sund 70-200 mm f4"]),
        }
    ),
    max_size=14,
)
minutes = st.integers(-30, 200).map(lambda m: START + timedelta(minutes=m))
cover = st.one_of(
    st.lists(st.sampled_from([*NAMES, "day1/TARN0001", "TARN7777"]), min_size=1, max_size=2).map(
        lambda names: {"files": tuple(names)}
    ),
    st.tuples(minutes, minutes).map(lambda pair: {"times": pair}),
    st.tuples(minutes, minutes).map(lambda pair: {"times": tuple(t.replace(tzinfo=UTC) for t in pair)}),
)
state = st.sampled_from(
    [
        {"bare": True},
        {"unknown": True},
        {"neutral": "none"},
        {"ring": "r77", "holder": "main", "slots": ("n10", "g2hard")},
        {"ring": "r72"},
        {"ring": "nowhere"},
        {"hood": "h16", "source": "estimated"},
    ]
)
spans = st.tuples(cover, state, st.sampled_from([None, None, "A", "B", "C"]))
declarations = st.dictionaries(
    st.sampled_from(FOLDERS), st.tuples(st.booleans(), st.lists(spans, max_size=4)), max_size=len(FOLDERS)
)


def declared(found: dict[str, tuple[bool, list[Any]]]) -> list[Declaration]:
    return [
        Declaration(
            worn=tuple(Worn(**covered, **what, body=body) for covered, what, body in worn),
            path=f"{folder}/filters.toml",
            folder=folder,
            inherit=inherit,
            lines=tuple({"": 10 * i + 1} for i in range(len(worn))),
        )
        for folder, (inherit, worn) in found.items()
    ]


def rows(found: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        {k: v for k, v in row.items() if k != "name"}
        | {"frame": row["name"] if row["folder"] == "." else f"{row['folder']}/{row['name']}"}
        for row in found
    ]


@settings(max_examples=150, deadline=None)
@given(frames, declarations)
def test_the_join_is_a_partition(
    kit: Kit, scanned: Any, found: list[dict[str, Any]], written: dict[str, tuple[bool, list[Any]]]
) -> None:
    table = add_gear(scanned(rows(found)), kit)
    result = join(table, kit, declared(written))
    after = result.frames

    assert after["frame"].tolist() == table["frame"].tolist()
    assert set(after["declaration"]) <= {"worn", "bare", "no-neutral", "unknown", "undeclared"}
    counts = after["declaration"].value_counts()
    assert int(counts.sum()) == len(table)

    undeclared = after["declaration"] == "undeclared"
    assert (after["undeclared_reason"].notna() == undeclared).all()
    for column in ("declared_in", "declaration_source", "rig", "rig_words", "stops_words"):
        assert (after[column].isna() == undeclared).all(), column
    assert set(after["rig"].dropna()) == set(result.rigs)
    assert all(
        r.state == s
        for s, r in zip(after["declaration"], after["rig"].map(result.rigs), strict=True)
        if r == r
    )

    untouched = [c.name for c in (*SCAN, *GEAR) if c.name not in ("lens_id", "lens_source")]
    pd.testing.assert_frame_equal(after[untouched], table[untouched])


def level_says(frame: dict[str, Any], spans: list[tuple[datetime, datetime]]) -> int:
    return sum(start <= frame["captured_at"] < end for start, end in spans)


def expected(frame: dict[str, Any], levels: dict[str, tuple[bool, list[tuple[datetime, datetime]]]]) -> bool:
    """The rule in its plainest form: the nearest folder with a span decides, two spans there spoil it."""
    chain = {"day1/dawn": ["day1/dawn", "day1", "."], "day1": ["day1", "."], ".": ["."]}[frame["folder"]]
    for folder in chain:
        inherit, spans = levels.get(folder, (True, []))
        if level_says(frame, spans):
            return level_says(frame, spans) == 1
        if not inherit:
            return False
    return False


timed = st.fixed_dictionaries({"folder": st.sampled_from([".", "day1", "day1/dawn"]), "captured_at": minutes})
proper = st.tuples(minutes, st.integers(1, 90)).map(lambda p: (p[0], p[0] + timedelta(minutes=p[1])))
levels = st.dictionaries(
    st.sampled_from([".", "day1", "day1/dawn"]), st.tuples(st.booleans(), st.lists(proper, max_size=4))
)


@settings(max_examples=150, deadline=None)
@given(st.lists(timed, max_size=12), levels)
def test_the_nearest_single_span_wins(kit: Kit, scanned: Any, found: Any, written: Any) -> None:
    listed = [
        {**row, "frame": f"N_{i:04d}" if row["folder"] == "." else f"{row['folder']}/N_{i:04d}"}
        for i, row in enumerate(found)
    ]
    spans = {
        folder: (inherit, [({"times": pair}, {"bare": True}, None) for pair in pairs])
        for folder, (inherit, pairs) in written.items()
    }
    result = join(add_gear(scanned(listed), kit), kit, declared(spans))
    assert result.frames["declaration"].eq("bare").tolist() == [expected(row, written) for row in listed]


@settings(max_examples=60, deadline=None)
@given(frames, declarations, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(
    kit: Kit, scanned: Any, found: list[dict[str, Any]], written: dict[str, Any], random: Any
) -> None:
    """The same frames in another order get the same declarations."""
    listed = {row["frame"]: row for row in rows(found)}
    names = sorted(listed)
    shuffled = names[:]
    random.shuffle(shuffled)
    spans = declared(written)
    one, other = (
        join(add_gear(scanned([listed[n] for n in line]), kit), kit, spans).frames.set_index("frame")
        for line in (names, shuffled)
    )
    columns = ["declaration", "declared_in", "rig"]
    pd.testing.assert_frame_equal(one[columns], other.loc[names, columns])
