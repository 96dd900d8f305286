"""Whole columns of text, beside the same texts one cell after the other."""

import numpy as np
import pandas as pd
import pytest

from pipeline.contracts.arrow_texts import as_column, days_written, each_once, joined, placed, taken, texts_of

WORDS = np.array(["a", "", "é", "two words", None], dtype=object)


def _cells(random, rows):
    return pd.Series(random.choice(WORDS, rows), pd.RangeIndex(3, 3 + rows), dtype="str")


@pytest.mark.parametrize("seed", range(60))
def test_texts_are_joined_taken_and_put_in_place_as_cell_by_cell(seed):
    random = np.random.default_rng(seed)
    rows = int(random.integers(0, 12))
    column, other = _cells(random, rows), _cells(random, rows)
    cells, others = ([None if pd.isna(cell) else cell for cell in one] for one in (column, other))
    assert texts_of(column).to_pylist() == cells
    assert as_column(texts_of(column), column.index).equals(column)
    both = joined(["<", texts_of(column), "|", texts_of(other)], rows).to_pylist()
    assert both == [None if None in pair else f"<{pair[0]}|{pair[1]}" for pair in zip(cells, others, strict=True)]
    assert joined(["same", " for all"], rows).to_pylist() == ["same for all"] * rows
    places = random.integers(-1, rows, 9 if rows else 0)
    assert taken(texts_of(column), places).to_pylist() == [None if at < 0 else cells[at] for at in places]
    shuffled = random.permutation(rows)
    first, second = np.split(shuffled, [rows // 3])[0], shuffled[rows // 2 :]
    parts = [(here, texts_of(column).take(here)) for here in (first, second)]
    filled = {*first.tolist(), *second.tolist()}
    assert placed(parts, rows, "-").to_pylist() == [cells[at] if at in filled else "-" for at in range(rows)]
    assert placed(parts, rows, None).to_pylist() == [cells[at] if at in filled else None for at in range(rows)]


def test_the_same_value_is_written_once():
    asked = []

    def write(value):
        asked.append(value)
        return f"{value:.1f}"

    assert each_once(pd.Series([2.0, np.nan, 2.0, 3.25]), write, "?").to_pylist() == ["2.0", "?", "2.0", "3.2"]
    assert asked == [2.0, 3.25]


def test_instants_are_written_by_their_day():
    instants = pd.Series(pd.to_datetime(["2026-08-03 14:05", None, "2026-08-03 23:59"])).dt.tz_localize(
        "America/Toronto"
    )
    assert days_written(instants, "on {}".format, "never").to_pylist() == ["on 2026-08-03", "never", "on 2026-08-03"]
