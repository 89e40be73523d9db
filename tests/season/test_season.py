"""A season against pandas, and what happens to archives that are broken, old, new, or there twice."""

import os
import shutil

import pytest
from season_rows import FIXTURES, KIT, frame

from audit.errors import AuditError
from audit.season import names
from audit.season.book import open_book
from audit.season.season import season
from benchmarks.season import by_pandas


def test_it_says_what_pandas_says(synthetic):
    found, other = season([synthetic]), by_pandas(synthetic.iterdir())
    assert (found.frames, found.repeats) == (other["frames"], other["repeats"]) == (2360, 40)
    assert {f.filter: (f.worn.of, f.worn.count, f.frames) for f in found.filters} == other["filters"]
    pairs = {(p.mount, p.lens): (p.cut.of, p.cut.count, p.undecided) for p in found.pairs}
    assert pairs == {key: value[:3] for key, value in other["pairs"].items()}
    for rig in found.rigs:
        counts = other["focals"][rig.rig]
        assert rig.frames == sum(counts.values())
        assert [f.share.count for f in rig.focals] == sorted(counts.values(), reverse=True)[:3]
        assert all(counts[f.focal_mm] == f.share.count for f in rig.focals)
    lost = {(one.year, one.cause): (one.lost.count, one.doubtful) for one in found.lost}
    expected = {key: value for key, value in other["lost"].items() if key[1] != "diffraction"}
    assert expected.items() <= lost.items()
    assert not any(any(lost[key]) for key in lost.keys() - expected.keys() if key[0] and key[1] != "any")
    measured = {d.filter: sorted(m.stops for m in d.measured) for d in found.drifts}
    assert measured == other["measured"]


def test_the_range_of_a_pair_is_by_its_setups(synthetic):
    from audit.season.interval import share

    other = by_pandas(synthetic.iterdir())["pairs"]
    for pair in season([synthetic]).pairs:
        frames, cut, _, worth = other[pair.mount, pair.lens]
        expected = share(cut, frames, worth)
        assert (pair.cut.low, pair.cut.high) == pytest.approx((expected.low, expected.high))


def test_a_planted_drift_is_found_and_no_other(synthetic):
    codes = {one.filter: one.code for one in season([synthetic]).drifts}
    assert codes == {"n3": "steady", "n6": "drifts", "n10": "steady"}


def test_a_filter_that_was_never_worn_stands_first(archive):
    for number in range(4):
        archive(f"trip-{number}", [frame(n, f"202{number}-05-01") for n in range(3)])
    first, second = season([archive.folder]).filters
    assert (first.filter, first.worn.count, first.worn.of, first.frames) == ("n10", 0, 4, 0)
    assert 0.4 < first.worn.high < 0.6
    assert (second.filter, second.worn.count, second.frames) == ("n6", 4, 12)


def test_a_filter_no_kit_names_is_told_all_the_same(archive):
    archive("trip", [frame(1)], kit=None)
    (only,) = season([archive.folder]).filters
    assert (only.filter, only.known, only.worn.of, only.frames) == ("n6", False, 1, 1)


@pytest.mark.parametrize("name", ["frames.parquet", "findings.json"])
@pytest.mark.parametrize("how", ["missing", "cut short", "no such thing", "bytes in the middle", "pipe"])
def test_a_broken_archive_is_named_and_the_others_count(copied, name, how):
    path = sorted(copied.iterdir())[2] / "data" / "knowledge" / name
    data = path.read_bytes()
    if how in ("missing", "pipe"):
        path.unlink()
    if how == "pipe":
        os.mkfifo(path)
    elif how == "cut short":
        path.write_bytes(data[: len(data) // 2])
    elif how == "no such thing":
        path.write_bytes(b"not at all")
    elif how == "bytes in the middle":
        path.write_bytes(
            b"\0" * (len(data) - 1000) + data[-1000:]
            if name.endswith("n")
            else data[:8] + b"\xff" * 3000 + data[3008:]
        )
    found = season([copied])
    assert [(p.path.name, p.skipped) for p in found.problems] == [("trip-0002", True)]
    assert name in found.problems[0].why and str(copied) not in found.problems[0].why
    assert (found.archives, found.frames) == (3, 120 - 20)


def test_a_kit_that_cannot_be_understood_is_told_and_its_frames_count(archive):
    archive("a", [frame(1)], kit="[[filter]\n")
    archive("b", [frame(2)])
    found = season([archive.folder])
    assert [(p.path.name, p.skipped) for p in found.problems] == [("a", False)]
    assert (found.archives, found.frames, found.kits) == (2, 2, 1)


def test_one_of_a_newer_version_is_left_out(archive):
    archive("new", [frame(1)], version=names.SCHEMA_VERSION + 1)
    archive("old", [frame(2)])
    found = season([archive.folder])
    assert [p.path.name for p in found.problems] == ["new"]
    assert "newer version" in found.problems[0].why
    assert found.frames == 1


def test_version_1_stays_readable():
    found = season([FIXTURES / "version-1"])
    assert (found.archives, found.frames, found.problems, found.missing) == (1, 43, (), {})
    assert found.versions == {1: 1}
    assert (found.first, found.last) == ("2025-09-13", "2025-09-13")
    assert sum(f.frames for f in found.filters) > 0 and found.pairs and found.drifts and found.rigs


@pytest.mark.parametrize("everyone", [True, False])
def test_a_column_that_an_older_version_had_not_is_null_and_told(archive, everyone):
    lacks = ("filter_stops", "setup", "exposure_time_s")
    archive("a", [frame(1)], drop=lacks)
    archive("b", [frame(2)], drop=lacks if everyone else ())
    book = open_book([archive.folder], everything=True)
    assert book.problems == () and book.frames == 2
    assert book.missing == dict.fromkeys(sorted(lacks), 2 if everyone else 1)
    assert book.database.execute("SELECT count(*), count(setup_id) FROM frames").fetchall() == [
        (2, 0 if everyone else 1)
    ]


def test_the_same_bytes_in_two_archives_count_once(archive):
    rows = [frame(n) for n in range(5)]
    digests = [f"{n + 7:0128x}" for n in range(5)]
    archive("a", rows, digests=digests, findings=[("corners", "act", ["Ravnsund/TARN0001"])])
    archive("b", rows, digests=digests, findings=[("corners", "act", ["Ravnsund/TARN0001"])])
    found = season([archive.folder])
    assert (found.archives, found.frames, found.repeats) == (2, 5, 5)
    assert [f.worn.of for f in found.filters] == [1, 1]  # a copy is no second trip
    assert found.lost[0].lost.count == 1


def test_same_time_and_size_alone_is_no_repetition(archive):
    rows = [frame(n) for n in range(5)]
    archive("a", rows, digests=[f"{n + 7:0128x}" for n in range(5)])
    archive("b", rows, digests=[f"{n + 99:0128x}" for n in range(5)])
    assert season([archive.folder]).repeats == 0


def test_bytes_under_another_name_are_still_the_same(archive):
    named = frame(1) | {"frame": "other/X1", "files": ["other/X1.JPG"], "setup": "other/X1"}
    archive("a", [frame(1)], digests=["ab" * 64])
    archive("b", [named], digests=["ab" * 64])
    assert season([archive.folder]).repeats == 1


def test_frames_without_time_or_size_do_not_stop_it(archive):
    odd = {"captured_at": None, "clock_at": None}
    archive("a", [frame(1, **odd), frame(2, **odd, size_bytes=None)])
    archive("b", [frame(3, **odd)])
    found = season([archive.folder])
    assert (found.frames, found.first) == (3, "")
    assert {one.year for one in found.lost} == {0, None}


def test_folders_named_like_patterns_are_read_as_they_are(archive):
    for name in ("[a]", "a*", "what?", "it's", "year=2024", "ü b"):
        archive(name, [frame(1, size_bytes=len(name) * 1000)])
    found = season([archive.folder])
    assert (found.archives, found.problems) == (6, ())


def test_a_path_that_is_not_utf8_is_told(archive):
    archive("good", [frame(1)])
    shutil.copytree(archive.folder / "good", archive.folder / os.fsdecode(b"caf\xe9"))
    found = season([archive.folder])
    assert found.archives == 1 and "UTF-8" in found.problems[0].why


def test_an_archive_named_twice_counts_once(archive):
    bag = archive("a", [frame(1)])
    assert season([archive.folder, bag, bag / ".." / "a"]).archives == 1


def test_an_archive_half_made_is_not_looked_at(archive):
    archive(".a.cornerstop-archive", [frame(1)])
    archive("b", [frame(2)])
    assert season([archive.folder]).archives == 1


def test_bags_of_others_are_passed_over(archive):
    (archive("a", [frame(1)]) / "bag-info.txt").write_text("Source-Organization: somebody\n")
    archive("b", [frame(2)])
    assert season([archive.folder]).archives == 1


def test_nothing_to_read_is_one_line(tmp_path, archive):
    with pytest.raises(AuditError, match="no archive below"):
        season([tmp_path])
    (archive("a", [frame(1)]) / "data" / "knowledge" / "findings.json").unlink()
    with pytest.raises(AuditError, match=r"no archive could be read; the first: .*findings.json is missing"):
        season([archive.folder])


def test_undeclared_and_estimated_frames_are_told_apart(archive):
    open_ = {"declaration": "undeclared", "rig": None, "rig_words": None, "mount_words": None, "filters": []}
    archive("a", [frame(1), frame(2, declaration_source="estimated"), frame(3, **open_)])
    found = season([archive.folder])
    assert found.undeclared == 1
    assert found.filters[-1].estimated == 1
    assert found.pairs[0].estimated == 1 and found.pairs[0].cut.of == 2


def test_a_lost_frame_counts_once_whatever_its_causes(archive):
    names_ = [f"Ravnsund/TARN000{n}" for n in range(5)]
    archive(
        "a",
        [frame(n) for n in range(5)],
        findings=[
            ("corners", "act", names_[:2]),
            ("exposure-off", "act", names_[1:3]),
            ("corners", "look", names_[3:4]),
            ("unit-slip", "act", names_[4:]),
        ],
    )
    lost = {
        one.cause: (one.lost.count, one.doubtful) for one in season([archive.folder]).lost if one.year == 0
    }
    assert lost["any"] == (3, 1)
    assert (lost["corners"], lost["exposure-off"], lost["unreadable"]) == ((2, 1), (2, 0), (0, 0))


def test_names_are_those_of_the_rooms_they_come_from():
    from audit.archive import knowledge, package
    from audit.report import data

    assert (names.KNOWLEDGE, names.PICTURES) == (package.KNOWLEDGE, package.PICTURES)
    assert names.KIT == knowledge.KIT
    assert names.SCHEMA_VERSION == data.SCHEMA_VERSION
    assert KIT
