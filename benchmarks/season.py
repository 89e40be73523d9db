"""Seasons of synthetic archives: `python -m benchmarks.season FOLDER [ARCHIVES [FRAMES]]` makes and measures.

Each archive has every column of the frame table, findings, a kit of the time, and a manifest of digests; one
in fifty holds twenty frames of the archive before it. The command runs in a process of its own on two cores;
`by_pandas` says the same of some archives in another way, and a test holds the two together.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from audit.report.data import SCHEMA_VERSION
from audit.table import columns

MOUNTS = (
    "77 mm ring, holder main",
    "77 mm recessed ring, holder main",
    "77 mm ring, holder main, front ring",
)
FILTERS = ("n3", "n6", "n10", "g2soft", "g3hard", "pol", "n15", "old4")
WORN = FILTERS[:6]
LENSES = ("Sund 16-35 mm f4", "Sund 24-70 mm f2.8", "Sund 100 mm f2.8")
FOCALS = (16.0, 17.0, 20.0, 24.0, 28.0, 35.0, 50.0, 70.0, 100.0)
LOST = (
    ("corners", "act"),
    ("exposure-off", "act"),
    ("unreadable", "act"),
    ("corners", "look"),
    ("diffraction", "note"),
)
SHARED, EVERY, SETUP = 20, 50, 5
DAYS_APART = 3


def make(folder: Path, archives: int, frames: int, seed: int = 20) -> None:
    """Writes so many archives of so many frames."""
    random = np.random.default_rng(seed)
    for number in range(archives):
        bag = folder / f"trip-{number:04d}"
        knowledge = bag / "data" / "knowledge"
        knowledge.mkdir(parents=True)
        table = _table(random, number, frames)
        pq.write_table(_arrow(table), knowledge / "frames.parquet", compression="zstd")
        (knowledge / "findings.json").write_text(json.dumps(_findings(random, table["frame"]), indent=1))
        (knowledge / "kit.toml").write_text(_kit(number // 25))
        (bag / "bagit.txt").write_text("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
        (bag / "bag-info.txt").write_text("Cornerstop-Bag-Form: 1\n")
        lines = zip(_digests(number, frames), table["frame"], strict=True)
        (bag / "manifest-sha512.txt").write_text("".join(f"{d}  data/pictures/{f}.JPG\n" for d, f in lines))


def _shared(number: int) -> int:
    """How many frames an archive has from the one before it."""
    return SHARED if number % EVERY == 1 else 0


def _digests(number: int, frames: int) -> Iterator[str]:
    for at in range(frames):
        owner = number - 1 if at < _shared(number) else number
        yield f"{owner * 2**32 + at:0128x}"


def _table(random: np.random.Generator, number: int, frames: int) -> pd.DataFrame:
    """The columns that a season asks for."""
    at = np.arange(frames)
    owner = np.where(at < _shared(number), number - 1, number)
    when = pd.Timestamp("2016-01-01") + pd.to_timedelta(owner * DAYS_APART * 86400 + at * 37.0, unit="s")
    mount = _of_setups(random, frames, 4, (0.4, 0.3, 0.2, 0.1))
    worn = _of_setups(random, frames, len(WORN))
    lens = _of_setups(random, frames, len(LENSES), (0.5, 0.3, 0.2))
    focal = np.array(FOCALS)[_of_setups(random, frames, len(FOCALS))]
    on = mount > 0
    verdict = np.array(["clear", "at risk", "cut"])[_of_setups(random, frames, 3, (0.9, 0.06, 0.04))]
    measured = on & (random.random(frames) < 0.3) & (worn < 3)
    stops = np.array([3.0, 6.0, 10.0, 0, 0, 0])[worn] + 0.5 * number * DAYS_APART / 365 * (worn == 1)
    filters = [[WORN[w]] if o else [] for w, o in zip(worn, on, strict=True)]
    strength = np.where(measured, np.array(WORN, dtype=object)[worn], None)
    return pd.DataFrame(
        {
            "frame": [f"day {n // 250}/TARN{n:04d}" for n in at],
            "files": [[f"day {n // 250}/TARN{n:04d}.JPG"] for n in at],
            "setup": [f"day {n // 250}/TARN{n // SETUP * SETUP:04d}" for n in at],
            "size_bytes": 20_000_000 + owner * 1009 + at * 3,
            "clock_at": when.to_numpy("datetime64[us]"),
            "captured_at": when.to_numpy("datetime64[us]"),
            "lens": np.array(LENSES, dtype=object)[lens],
            "focal_length_mm": focal,
            "declaration": np.where(on, "worn", "bare"),
            "declaration_source": "photographer",
            "rig": [f"{m:02x}{w if m else 0:02x}aaaa" for m, w in zip(mount, worn, strict=True)],
            "rig_words": [
                f"{MOUNTS[m - 1]}: {WORN[w]}" if m else "bare lens" for m, w in zip(mount, worn, strict=True)
            ],
            "mount_words": [MOUNTS[m - 1] if m else None for m in mount],
            "filters": filters,
            "corner_verdict": np.where(on, verdict, "clear"),
            "corner_verdict_by": "predicted",
            "strength_filter": strength,
            "filter_stops": np.where(measured, stops, np.nan),
            "filter_err_stops": np.where(measured, 0.15, np.nan),
        }
    )


def _of_setups(
    random: np.random.Generator, frames: int, kinds: int, p: tuple[float, ...] | None = None
) -> np.ndarray:
    """What stays as it is while the tripod stands: a number of so many for each frame."""
    drawn: np.ndarray = random.choice(kinds, frames // SETUP + 1, p=p)
    return drawn.repeat(SETUP)[:frames]


def _arrow(table: pd.DataFrame) -> pa.Table:
    """All columns of the frame table; those that a season does not ask for are filled with something."""
    found = []
    for column in columns.written(private=False):
        if column.name in table:
            found.append(column.kind.array(column.kind.series(table[column.name].tolist())))
        else:
            found.append(_filler(column.name, len(table)))
    return pa.Table.from_arrays(found, schema=columns.schema(private=False))


@cache
def _filler(name: str, count: int) -> pa.Array:
    """A column of values as files hold them, the same in every archive."""
    random = np.random.default_rng(len(name))
    (kind,) = (column.kind for column in columns.written(private=False) if column.name == name)
    some = {
        "float64": np.round(random.random(60) * 20, 3),
        "str": ["as written", "kit", "B"],
        "Int64": np.arange(9),
    }
    values = random.choice(some[kind.dtype], count).tolist() if kind.dtype in some else [None] * count
    return kind.array(kind.series(values))


def _findings(random: np.random.Generator, names: pd.Series) -> dict[str, object]:
    """findings.json with sentences as long as real ones."""
    found = []
    for n in range(40):
        check, level = LOST[n % len(LOST)]
        frames = sorted(set(names.iloc[random.integers(0, len(names), max(len(names) // 80, 1))]))
        text = "the corner is black; limited by the holder main; a crop to 64 % of the area is clean " * 4
        found.append(
            {"check": check, "level": level, "cause": "", "frames": frames, "seen": text, "advice": text}
        )
    tool = {"name": "cornerstop", "version": "0.1.0"}
    return {"schema_version": SCHEMA_VERSION, "tool": tool, "findings": found, "rigs": [], "filters": []}


def _kit(edition: int) -> str:
    parts = "".join(f'[[filter]]\nid = "{name}"\nkind = "neutral"\nstops = 3\n\n' for name in FILTERS)
    return f"# edition {edition}\n{parts}" + "# what the photographer wrote beside it\n" * 40


def by_pandas(bags: Iterable[Path]) -> dict[str, object]:
    """What a season says of some archives, by pandas, one archive after the other."""
    parts, findings, carried = [], [], []
    for number, bag in enumerate(sorted(bags), 1):
        knowledge = bag / "data" / "knowledge"
        table = pd.read_parquet(knowledge / "frames.parquet").assign(archive=number)
        lines = (bag / "manifest-sha512.txt").read_text().splitlines()
        digests = {line[130:]: line[:128] for line in lines}
        table["digest"] = [digests[f"data/pictures/{files[0]}"] for files in table["files"]]
        parts.append(table)
        for one in json.loads((knowledge / "findings.json").read_text())["findings"]:
            findings += [(number, name, one["check"], one["level"]) for name in one["frames"]]
        kit = tomllib.loads((knowledge / "kit.toml").read_text())
        carried += [(number, part["id"]) for part in kit["filter"]]
    every = pd.concat(parts, ignore_index=True)
    frames = every.drop_duplicates("digest")
    frames = frames.assign(
        step=frames["archive"].astype(str) + frames["setup"], year=frames["captured_at"].dt.year
    )
    told = pd.DataFrame(findings, columns=["archive", "frame", "check", "level"])
    return {
        "frames": len(frames),
        "repeats": len(every) - len(frames),
        "filters": _filters(frames, pd.DataFrame(carried, columns=["archive", "filter"])),
        "pairs": _pairs(frames),
        "focals": _focals(frames),
        "lost": _lost(frames, told),
        "measured": _measured(frames),
    }


def _filters(frames: pd.DataFrame, carried: pd.DataFrame) -> dict[str, tuple[int, int, int]]:
    """Of each filter: archives that carried it, those in which it was worn, frames."""
    worn = frames.explode("filters").dropna(subset="filters")
    found = {}
    for name, part in carried.groupby("filter"):
        on = worn[worn["filters"] == name]
        found[name] = len(part), on["archive"].nunique(), len(on)
    return found


def _pairs(frames: pd.DataFrame) -> dict[tuple[str, str], tuple[int, int, int, float]]:
    """Of each mount and lens: frames, cut, undecided, and what the frames are worth."""
    judged = frames[
        frames["mount_words"].notna() & frames["corner_verdict"].isin(["clear", "at risk", "cut"])
    ]
    found = {}
    for key, part in judged.groupby(["mount_words", "lens"]):
        verdicts, sizes = part["corner_verdict"], part.groupby("step").size()
        worth = len(part) ** 2 / float((sizes**2).sum())
        found[key] = len(part), int((verdicts == "cut").sum()), int((verdicts == "at risk").sum()), worth
    return found


def _focals(frames: pd.DataFrame) -> dict[str, dict[int, int]]:
    """Of each rig: frames by focal length."""
    return {
        rig: part["focal_length_mm"].round().value_counts().to_dict() for rig, part in frames.groupby("rig")
    }


def _lost(frames: pd.DataFrame, told: pd.DataFrame) -> dict[tuple[int, str], tuple[int, int]]:
    """Of each year and check: frames lost, frames in doubt."""
    joined = told.drop_duplicates().merge(frames[["archive", "frame", "year"]])
    wide = joined.assign(act=joined["level"] == "act", look=joined["level"] == "look")
    each = wide.groupby(["year", "check", "archive", "frame"])[["act", "look"]].any().reset_index()
    each["doubt"] = each["look"] & ~each["act"]
    sums = each.groupby(["year", "check"])[["act", "doubt"]].sum()
    return {key: (int(row["act"]), int(row["doubt"])) for key, row in sums.iterrows()}


def _measured(frames: pd.DataFrame) -> dict[str, list[float]]:
    """Of each filter: its strengths, an archive each."""
    known = frames.dropna(subset="filter_stops")
    return {
        name: sorted(part.groupby("archive")["filter_stops"].first())
        for name, part in known.groupby("strength_filter")
    }


def measure(folder: Path) -> dict[str, float]:
    """The command itself, over the folder, in a process of its own on two cores."""
    cores = set(sorted(os.sched_getaffinity(0))[:2])
    with tempfile.TemporaryDirectory() as place:
        command = [sys.executable, "-m", "audit", "season", str(folder), "--quiet", "--out", f"{place}/page"]
        began = time.perf_counter()
        subprocess.run(command, check=True, preexec_fn=lambda: os.sched_setaffinity(0, cores))
        took, used = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    return {
        "wall_s": round(took, 2),
        "processor_s": round(used.ru_utime + used.ru_stime, 2),
        "memory_mib": round(used.ru_maxrss / 1024),
    }


def main() -> None:
    """Makes what is not there yet, then measures."""
    folder, (archives, frames) = Path(sys.argv[1]), [*map(int, sys.argv[2:4]), 1000, 1000][:2]
    if not folder.exists():
        make(folder, archives, frames)
    print(json.dumps(measure(folder) | {"load": os.getloadavg()[0]}))


if __name__ == "__main__":
    main()
