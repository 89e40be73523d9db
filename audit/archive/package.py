"""The data package of a bag (Frictionless Data Package and Table Schema 1.0), and README.txt."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from audit.table.columns import written

_TYPES = {"real": "number", "whole": "integer", "flag": "boolean", "time": "datetime"}
PICTURES, KNOWLEDGE = "data/pictures", "data/knowledge"
FILES = f"{KNOWLEDGE}/files.csv"
LEFT = f"{KNOWLEDGE}/not-archived.csv"
TWINS = f"{KNOWLEDGE}/duplicates.csv"
TABLES = ("frames.csv", "files.csv", "not-archived.csv", "duplicates.csv")
TEXT = "string"
"""Its cells are written so that no spreadsheet runs one (audit.message.spreadsheet.py)."""
FILES_COLUMNS = (
    ("path", TEXT, "", "path of the file in the bag"),
    ("size_bytes", "integer", "byte", "its size"),
    ("modified_ns", "integer", "ns", "time of change of its source, since 1970-01-01 UTC; empty: made here"),
    ("old_name_hex", TEXT, "", "bytes of its path in the dump, where it had to be renamed"),
)
LEFT_COLUMNS = (
    ("path", TEXT, "", "path in the dump, as it may be shown"),
    ("path_hex", TEXT, "", "the bytes of that path"),
    ("reason", TEXT, "", "why it is not in the bag"),
)
TWINS_COLUMNS = (
    ("path", TEXT, "", "path of a file with the same bytes as an earlier one"),
    ("same_as", TEXT, "", "path of the earlier one in the bag"),
    ("kept", "boolean", "", "whether the file is in the bag too"),
    ("old_name_hex", TEXT, "", "bytes of its path in the dump"),
)
DUMPS = "cornerstop_dumps"
"""Key of datapackage.json: folders of data/pictures that were a dump each, where there were several."""


def package_text(name: str, created: str, others: Iterable[str], dumps: Sequence[str] = ()) -> bytes:
    """datapackage.json: the tables with type, unit and meaning of each column, and the other data files."""
    frames = [(c.name, _TYPES.get(c.kind.name, TEXT), c.unit, c.meaning) for c in written(private=False)]
    tables = [
        _table("frames", f"{KNOWLEDGE}/frames.csv", frames),
        _table("files", FILES, FILES_COLUMNS),
        _table("not-archived", LEFT, LEFT_COLUMNS),
        _table("duplicates", TWINS, TWINS_COLUMNS),
    ]
    files = [{"name": f"file-{n}", "path": path, "type": "file"} for n, path in enumerate(sorted(others), 1)]
    record: dict[str, Any] = {"profile": "data-package", "name": "cornerstop-archive", "title": name}
    record |= {"created": created, DUMPS: list(dumps)}
    return (json.dumps({**record, "resources": [*tables, *files]}, indent=1) + "\n").encode("ascii")


def _table(name: str, path: str, columns: Iterable[tuple[str, str, str, str]]) -> dict[str, Any]:
    return {
        "name": name,
        "path": path,
        "profile": "tabular-data-resource",
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {"fields": [_field(*column) for column in columns], "missingValues": [""]},
    }


def _field(name: str, kind: str, unit: str, meaning: str) -> dict[str, str]:
    field = {"name": name, "type": kind, "description": meaning}
    if kind == "datetime":
        field["format"] = "any"
    return {**field, "unit": unit} if unit else field


README = """This folder is an archive of photographs, and of what was known of them when it was made.

It is a bag as RFC 8493 (BagIt) describes it; no program of ours is needed to read it.

data/pictures           every file of the camera's cards, as it was
data/knowledge          what is known of them; index.html is for reading
  frames.csv            one line a frame: which filters were on (rig_words, declaration), exposure, corners
  frames.parquet        the same table, typed
  findings.json         what was found wrong
  files.csv             size and time of each file; old names in hexadecimal where one had to be changed
  not-archived.csv      what could not be copied, and why
  duplicates.csv        files of the same bytes
  sidecars              where asked for: XMP of each frame, what is known merged with the card's own
  kit, declarations     what the photographer wrote down (*.toml)
                        A text in these tables that a spreadsheet could run, at the start of a cell or
                        behind ";", has an apostrophe before it; a real one there is doubled
datapackage.json        what each column of the tables means, with its unit
manifest-sha512.txt     the SHA-512 digest of each file below data
tagmanifest-sha512.txt  the same of the files beside data
history/DATE            manifests, tables and declarations as they were before a later card or a correction

To check that no bit has changed, in this folder:

  sha512sum -c manifest-sha512.txt
  sha512sum -c tagmanifest-sha512.txt

The file NAME.sha512 beside this folder (NAME is the folder's name when it was made) holds the digest of
tagmanifest-sha512.txt itself.
"""
