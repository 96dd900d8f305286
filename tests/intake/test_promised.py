"""A promised plan read back: its stops matched to the cores, and what cannot be matched or read."""

import pandas as pd
import pytest

from pipeline.errors import InputError
from pipeline.intake.promised import NOTHING_PROMISED, promised_stops, read_promised

_HEAD = "crew,day,stop,core_id,arrival,mix,register\n"
_CORES = pd.DataFrame(
    {
        "core_id": ["HV-1", "HV-2", "HV-2", "HV-3", "HV-3"],
        "register": ["North", "North", "South", "North", "North"],
        "is_copy": [False, False, False, False, True],
    },
    index=[10, 11, 12, 13, 14],
)


def _read(folder, text, name="plan.csv", day_first=None, encoding="utf-8"):
    (folder / name).write_text(text, encoding=encoding)
    return read_promised(name, folder, day_first=day_first)


def test_without_a_promised_plan_nothing_is_kept(tmp_path):
    assert read_promised(None, tmp_path, day_first=None) is NOTHING_PROMISED
    kept, notices = promised_stops(NOTHING_PROMISED, _CORES)
    assert (len(kept), notices) == (0, [])


def test_a_stop_is_matched_by_its_id_whatever_its_case_and_spaces(tmp_path):
    read = _read(tmp_path, _HEAD + "East,2026-10-05,1,hv - 1,07:12,4,\nEast,2026-10-05,2,HV-3,08:12,,North\n")
    kept, notices = promised_stops(read, _CORES)
    assert notices == []
    assert kept.index.tolist() == [10, 13]
    assert kept["crew"].tolist() == ["East", "East"]
    assert kept["day"].tolist() == [pd.Timestamp("2026-10-05")] * 2
    assert kept["stop"].tolist() == [1, 2]
    assert kept["mix"].fillna(0).tolist() == [4, 0]
    assert (len(read.sha256), read.rows) == (64, 2)


def test_of_an_id_in_two_registers_the_register_decides(tmp_path):
    kept, notices = promised_stops(_read(tmp_path, _HEAD + "East,2026-10-05,1,HV-2,07:12,,south\n"), _CORES)
    assert (kept.index.tolist(), notices) == ([12], [])


def test_what_matches_no_core_several_or_one_twice_is_reported_and_not_kept(tmp_path):
    rows = ("1,HV-9", "2,HV-2", "3,HV-1", "4,HV-1")
    text = _HEAD.replace(",register", "") + "".join(f"East,2026-10-05,{row},07:12,\n" for row in rows)
    kept, notices = promised_stops(_read(tmp_path, text), _CORES)
    assert (kept.index.tolist(), kept["stop"].tolist()) == ([10], [3])
    assert notices == [
        "plan.csv: 1 promised stop names no core of the registers, and is not kept: HV-9.",
        "plan.csv: 1 promised stop names an id that several cores carry, and is not kept: HV-2.",
        "plan.csv: 1 promised stop repeats a core that is promised already, and is not kept: HV-1.",
    ]


def test_another_program_may_have_written_it_with_semicolons_a_mark_and_other_dates_in_another_order(tmp_path):
    text = "Core ID;Stop;Day;Crew;Mix\nHV-1;1;05/10/2026;East;7\n"
    kept, _ = promised_stops(_read(tmp_path, text, day_first=True, encoding="utf-8-sig"), _CORES)
    assert (kept["day"].tolist(), kept["mix"].tolist()) == ([pd.Timestamp("2026-10-05")], [7])


def test_a_workbook_is_read_like_a_text(tmp_path):
    pd.DataFrame(
        {"crew": ["East"], "day": [pd.Timestamp("2026-10-05")], "stop": [1], "core_id": ["HV-1"], "mix": [2]}
    ).to_excel(tmp_path / "plan.xlsx", index=False)
    kept, _ = promised_stops(read_promised("plan.xlsx", tmp_path, day_first=None), _CORES)
    assert (kept.index.tolist(), kept["day"].tolist()) == ([10], [pd.Timestamp("2026-10-05")])


@pytest.mark.parametrize(
    ("row", "found", "column"),
    [
        (",2026-10-05,1,HV-1,,,", "an empty cell", "crew"),
        ("East,soon,1,HV-1,,,", '"soon"', "day"),
        ("East,2026-10-05,1.5,HV-1,,,", '"1.5"', "stop"),
        ("East,2026-10-05,,HV-1,,,", "an empty cell", "stop"),
        ("East,2026-10-05,9999999999999999999,HV-1,,,", '"9999999999999999999"', "stop"),
        ("East,2026-10-05,1,HV-1,,9999999999999999999,", '"9999999999999999999"', "mix"),
        ("East,2026-10-05,1,HV-1,,grey,", '"grey"', "mix"),
    ],
)
def test_a_cell_that_cannot_be_read_is_refused_with_its_row(tmp_path, row, found, column):
    with pytest.raises(InputError, match=rf"plan\.csv: row 2: found {found} for `{column}`, expected .* Correct"):
        _read(tmp_path, f"{_HEAD}{row}\n")


def test_a_file_that_is_no_plan_is_refused(tmp_path):
    with pytest.raises(InputError, match="plan"):
        _read(tmp_path, "id,what\nHV-1,grout\n")
    with pytest.raises(InputError, match=r"no such file .* Correct plan\.keep"):
        read_promised("gone.csv", tmp_path, day_first=None)
    with pytest.raises(InputError, match=r"plan\.pdf: not a file of promised stops.*plan\.keep"):
        _read(tmp_path, "x", name="plan.pdf")


def test_a_plan_with_a_header_and_no_stop_promises_nothing(tmp_path):
    read = _read(tmp_path, _HEAD)
    assert (len(read.frame), read.path) == (0, "plan.csv")
