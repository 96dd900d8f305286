"""What COPY is sent, and that a database has every text afterwards as it was."""

from dataclasses import replace

import pandas as pd
import pyarrow as pa
import pytest

from pipeline.clock import uncounted
from pipeline.publish.database.rows import copied, json_objects, points
from tests.publish.database.runs import frame, keep

# what ends a cell, a row or the data for COPY, or is a missing value there
_TEXTS = [
    "", "\\N", "\\.", "a\n\\.\nb", "a\tb", "a\r\nb", "\r", "\\", "\\\\", "\\t", '"', '"quoted"', "it's", "{}", "null",
    "=1+1", "日本 \U0001f6a7", "\x01\x1f\x7f", "a,b;c|d", " blanks ", None, "%s %", "\u2028", "NaN", "\ufeffx",
]  # fmt: skip


def _sent(**columns):
    return b"".join(
        copied(lambda part: {name: column.iloc[part] for name, column in columns.items()}, len(columns["a"]), uncounted)
    )


def test_missing_cells_empty_texts_and_signs_are_told_apart():
    texts = pd.Series(["", None, "\\N", "a\tb\nc\rd\\"], dtype="str")
    assert _sent(a=texts, b=texts) == (b"\t\n\\N\t\\N\n\\\\N\t\\\\N\na\\tb\\nc\\rd\\\\\ta\\tb\\nc\\rd\\\\\n")


def test_each_kind_of_value_is_written_as_the_database_reads_it():
    sent = _sent(
        a=pd.Series([0.1, 1e-7, float("nan")]),
        whole=pd.Series([1, None, -2], dtype="Int64"),
        truth=pd.Series([True, False, True]),
        day=pd.Series(pd.to_datetime(["2026-09-30", None, "1999-01-01"])),
        instant=pd.Series(pd.to_datetime(["2026-09-30T12:30+02:00", None, None], utc=True)),
        word=pd.Series(["a", None, "a"], dtype="category"),
    )
    assert sent.decode().splitlines() == [
        "0.1\t1\ttrue\t2026-09-30\t2026-09-30 10:30:00.000000Z\ta",
        "1e-7\t\\N\tfalse\t\\N\t\\N\t\\N",
        "\\N\t-2\ttrue\t1999-01-01\t\\N\ta",
    ]


def test_many_rows_are_sent_in_parts_and_none_is_lost():
    told = []
    rows = pd.Series(range(50_000))

    def columns(part):
        return {"row": rows.iloc[part], "again": rows.iloc[part]}

    parts = list(copied(columns, 50_000, lambda done, total, unit: told.append((done, total, unit))))
    assert len(parts) == 4
    assert b"".join(parts).decode().splitlines() == [f"{row}\t{row}" for row in range(50_000)]
    assert told == [(done, 50_000, "rows") for done in (0, 16_384, 32_768, 49_152, 50_000)]
    assert list(copied(columns, 0, uncounted)) == []


def test_a_core_without_a_position_has_no_point():
    wkb = points(pd.Series([1.0, None, 2.0]), pd.Series([2.0, 1.0, None]))
    # little end first, a point with a number of its CRS, 4326, then 1 and 2 as IEEE 754 has them
    assert wkb[0].lower() == "0101000020e6100000000000000000f03f0000000000000040"
    assert wkb[1:].isna().all()


@pytest.mark.parametrize("rows", [0, 2])
def test_objects_of_no_column_are_empty(rows):
    assert json_objects({}, rows).to_pylist() == ["{}"] * rows


def test_every_text_comes_back_and_a_nul_as_a_replacement(database, small_town, tmp_path):
    programme, result = small_town
    texts = [*_TEXTS, "\0", "a\0\0b"]
    # each text as the id, the street and an own cell of some core; and as the name of an own column
    frames = []
    for start in range(0, len(texts), len(result.table)):
        some = (texts[start:] + ["x"] * len(result.table))[: len(result.table)]
        frames.append(some)
    back = [None if text is None else text.replace("\0", "\ufffd") for text in texts]
    for number, some in enumerate(frames):
        own = {f"own {text}".replace("None", "x"): pd.Series(some, dtype="str") for text in some}
        table = result.table.assign(core_id=pd.Series(some, dtype="str"), street=pd.Series(some, dtype="str"), **own)
        keep(
            database, (programme, replace(result, table=table)), tmp_path / str(number), name=f"Town \\u0000 \0{number}"
        )
        stored = frame(database, "cores")[lambda rows, number=number: rows["run"].eq(number + 1)]
        expected = (back[number * len(some) :] + ["x"] * len(some))[: len(some)]
        assert stored["core_id"].tolist() == stored["street"].tolist() == expected
        for name in own:
            assert [cells[name.replace("\0", "\ufffd")] for cells in stored["own_columns"]] == expected
    names = [f"Town \\u0000 \ufffd{n}" for n in range(len(frames))]
    runs = frame(database, "runs", "run")
    assert runs["programme"].tolist() == [record["programme"] for record in runs["record"]] == names
    assert len(frames) == 4
    assert pa.array(texts).null_count == 1
