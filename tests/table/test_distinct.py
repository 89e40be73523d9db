"""Rows that are alike are numbered once, and what follows from a number is given to each of them."""

import pandas as pd

from audit.table.distinct import alike, first_rows, spread


def test_rows_are_numbered_in_order_and_nothing_is_like_nothing():
    number = alike([pd.Series(["b", None, "b", None, "a"]), pd.Series([1.0, None, 1.0, None, 1.0])])
    assert number.tolist() == [0, 1, 0, 1, 2]
    assert first_rows(number).tolist() == [0, 1, 4]


def test_combinations_do_not_run_into_one_another():
    rows = [(a, b) for a in (None, "x", "y", "z") for b in (None, 1, 2)]
    number = alike(
        [pd.Series([a for a, _ in rows], dtype=object), pd.Series([b for _, b in rows], dtype=object)]
    )
    assert number.tolist() == list(range(len(rows)))


def test_each_row_has_the_value_of_its_number(table):
    frames = table([{}, {}, {}]).set_index(pd.Index([7, 3, 5]))
    told = spread(frames, {"rig": ["n6", None], "filters": [["n6"], None]}, alike([pd.Series([1, 2, 1])]))
    assert told["rig"].isna().tolist() == [False, True, False]
    assert told["filters"].tolist() == [["n6"], [], ["n6"]]
    assert told.index.tolist() == [7, 3, 5]
