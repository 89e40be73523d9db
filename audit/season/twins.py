"""Frames that two archives hold with the same bytes: all but the first of each are left out.

Digests stand in the manifests, which are large. The same bytes have the same size and the same time, so only
frames that share both with a frame of another archive are looked up there.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from audit.archive.manifest_text import read_manifest_text
from audit.season.duck import listed
from audit.season.find import Archive, content
from audit.season.names import MANIFEST, PICTURES
from audit.season.views import identity

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_ALIKE = """CREATE TABLE _alike AS SELECT archive, frame_id FROM _frames SEMI JOIN (
    SELECT bytes_id FROM _frames GROUP BY bytes_id HAVING min(archive) < max(archive)) USING (bytes_id)"""


def find_twins(database: DuckDBPyConnection, archives: Mapping[int, Archive]) -> list[tuple[int, int]]:
    """(archive, frame_id) of the frames to be left out, by the digests of their first files."""
    database.execute(_ALIKE)
    numbers = [n for (n,) in database.execute("SELECT DISTINCT archive FROM _alike ORDER BY 1").fetchall()]
    if not numbers:
        return []
    files = listed(archives[number].table for number in numbers)
    rows = database.execute(
        f"""SELECT archive, frame_id, files[1] FROM (
            SELECT a.archive, {identity("a.archive", "p.frame::VARCHAR")} AS frame_id, p.files
            FROM read_parquet({files}, union_by_name = true, filename = true, hive_partitioning = false) p
            JOIN _paths a ON a.path = p.filename)
        SEMI JOIN _alike USING (archive, frame_id) ORDER BY ALL"""
    ).fetchall()
    digests: dict[int, Mapping[str, str]] = {}
    seen: dict[str, int] = {}
    left_out = []
    for number, frame, file in rows:
        if number not in digests:
            digests[number] = _digests(archives[number])
        digest = digests[number].get(f"{PICTURES}/{file}")
        if digest is not None and seen.setdefault(digest, number) != number:
            left_out.append((number, frame))
    return left_out


def _digests(archive: Archive) -> Mapping[str, str]:
    """SHA-512 by path; nothing where the manifest cannot be read, and then no frame of it is left out."""
    try:
        return read_manifest_text(content(archive.path / MANIFEST)).digests
    except (OSError, UnicodeError):
        return {}
