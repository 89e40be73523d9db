"""The tables of a bag open in a spreadsheet without running anything, and come back as they were."""

import csv
import io

from audit.archive.knowledge import rows_of, stamps_of, tables
from audit.archive.package import FILES, LEFT, LEFT_COLUMNS, TWINS, TWINS_COLUMNS
from audit.disk.workplace import Kept

NAMES = ("=cmd|'/c x'!A1.jpg", "'quoted.jpg", "+1.jpg", "a;=1+1.jpg", "a; 'b.jpg", 'one "two", three.jpg')


def test_names_come_back_and_no_cell_is_run():
    left = [(name, name.encode().hex(), "@reason") for name in NAMES]
    twins = [(f"data/pictures/{name}", "data/pictures/-1.jpg", "true", "3d") for name in NAMES]
    hexed = {name: name.encode().hex() for name in NAMES}
    kept = {f"data/pictures/{name}": Kept(5, "0" * 128, f"5 -7 {hexed[name]}") for name in NAMES}
    made = tables(kept, left, twins)
    assert rows_of(made[LEFT], LEFT_COLUMNS) == left
    assert rows_of(made[TWINS], TWINS_COLUMNS) == twins
    assert stamps_of(made[FILES]) == {path: one.stamp for path, one in kept.items()}
    cells = [cell for data in made.values() for row in csv.reader(io.StringIO(data.decode())) for cell in row]
    parts = [part.strip() for cell in cells for part in cell.split(";")]
    assert {part for part in parts if part.startswith(("=", "+", "-", "@"))} == {"-7"}  # a number stays one
