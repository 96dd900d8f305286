"""Fields that crews returned: filled where the register is empty, and never over what it holds."""

import pandas as pd

from pipeline.intake.returned_fields import fill_returned
from pipeline.intake.returns import read_returns
from pipeline.programme.returns import Returns

_ZONE = "America/Toronto"


def _instants(*texts):
    return pd.Series(pd.to_datetime(list(texts)).tz_localize(_ZONE), dtype=f"datetime64[us, {_ZONE}]")


def _cores(ids=("HV-1", "HV-2", "HV-3"), registers=("North", "North", "South"), **changes):
    """Return three cores, the first open, the second reinstated with 1.5 bags, the third with bags that are unreadable."""
    none = pd.Series([None] * 3, dtype="str")
    cores = {
        "core_id": list(ids), "register": list(registers), "same_row": [0, 1, 2],
        "opened_on": _instants("2026-09-01", "2026-09-01", "2026-09-01"),
        "bags_used": [float("nan"), 1.5, float("nan")], "bags_used_text": pd.Series([None, "1,5", "some"], dtype="str"),
        "bags_used_problem": pd.Series([None, None, "not a number"], dtype="str"),
        "reinstated_at": _instants(None, "2026-09-20", None), "reinstated_at_text": pd.Series([None, "20/09", None]),
        "shade_used": pd.Series([None, "Dark", None], dtype="str"), "crew": pd.Series([None, "A", None], dtype="str"),
        "surface_recorded": none, "remarks": none,
    }  # fmt: skip
    for name in ("water_l", "air_temperature_c", "flush_mm", "diameter_mm", "depth_mm", "reopened_at", "reinstated_at"):
        at = name.endswith("_at")
        cores.setdefault(name, _instants(None, None, None) if at else [float("nan")] * 3)
        cores.setdefault(f"{name}_text", none)
        cores.setdefault(f"{name}_problem", none)
    return pd.DataFrame(cores | changes)


def _filled(folder, rows, cores=None, head="core_id,register,crew,bags_used,reinstated_at,shade_used"):
    (folder / "back.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    returned = read_returns(Returns(path=["back.csv"]), folder, _ZONE, day_first=None)
    return fill_returned(_cores() if cores is None else cores, {"bags_used": frozenset({"North"})}, returned)


def _outcomes(filled):
    return dict(zip(filled.report["column"], filled.report["outcome"], strict=True))


def test_an_empty_field_is_filled_and_counted(tmp_path):
    filled = _filled(tmp_path, ["hv-1,north,B,0.5,2026-10-05 10:20,dark"])
    core = filled.cores.iloc[0]
    assert (core["bags_used"], core["bags_used_text"], core["shade_used"], core["crew"]) == (0.5, "0.5", "dark", "B")
    assert core["reinstated_at"] == pd.Timestamp("2026-10-05 10:20", tz=_ZONE)
    assert core["reinstated_at_text"] == "2026-10-05 10:20"
    assert filled.notices == ["Returns: 4 empty fields of 1 core filled."]
    assert set(_outcomes(filled).values()) == {"filled"}


def test_a_field_that_the_register_holds_stays_and_a_different_one_is_reported(tmp_path):
    filled = _filled(tmp_path, ["HV-2,,B,2,2026-09-20 11:00,dark"])
    assert filled.cores.iloc[1][["bags_used", "crew", "shade_used"]].tolist() == [1.5, "A", "Dark"]
    # the register has the day alone, and the return that day with a time
    assert _outcomes(filled) == {
        "bags_used": "not used: the register holds another value", "reinstated_at": "the same", "shade_used": "the same",
        "crew": "not used: the register holds another value",
    }  # fmt: skip
    assert filled.report["held"].tolist()[0] == "1,5"
    assert len(filled.notices) == 1
    assert filled.notices[0] == (
        "Returns: 2 fields not used: the register holds another value: HV-2. See returns_report.csv, and correct the "
        "register or the return."
    )


def test_a_cell_that_could_not_be_read_is_not_empty(tmp_path):
    filled = _filled(tmp_path, ["HV-3,,,2,,"])
    assert filled.cores["bags_used"].isna().tolist() == [True, False, True]
    assert _outcomes(filled) == {"bags_used": "not used: the register holds another value"}


def test_an_id_in_no_register_or_on_several_cores_fills_nothing(tmp_path):
    cores = _cores(ids=("HV-1", "HV-1", "HV-3"))
    filled = _filled(tmp_path, ["HV-9,,,1,,", "HV-1,,,1,,", "HV-3,North,,1,,"], cores)
    pd.testing.assert_frame_equal(filled.cores, cores)
    assert filled.report["outcome"].tolist() == [
        "not used: no such core in the registers", "not used: several cores carry this id",
        "not used: no such core in the registers",
    ]  # fmt: skip


def test_the_register_decides_between_two_cores_of_one_id_and_equal_rows_are_one_core(tmp_path):
    cores = _cores(ids=("HV-1", "HV-1", "HV-1"), same_row=[0, 0, 2], bags_used=[float("nan")] * 3,
                   bags_used_text=pd.Series([None] * 3, dtype="str"), bags_used_problem=pd.Series([None] * 3, dtype="str"))  # fmt: skip
    filled = _filled(tmp_path, ["HV-1,North,,1,,"], cores)
    assert filled.cores["bags_used"].fillna(0).tolist() == [1, 1, 0]
    assert len(filled.report) == 1


def test_of_two_returns_of_a_field_the_last_counts(tmp_path):
    filled = _filled(tmp_path, ["HV-1,,,1,,", "HV-1,,,2,,"])
    assert filled.cores["bags_used"].iloc[0] == 2
    assert filled.report["outcome"].tolist() == ["not used: returned again further down", "filled"]


def test_a_reinstatement_before_the_opening_is_not_used(tmp_path):
    filled = _filled(tmp_path, ["HV-1,,,,2026-08-31,"])
    assert filled.cores["reinstated_at"].isna().iloc[0]
    assert _outcomes(filled)["reinstated_at"] == "not used: before the core was opened"


def test_the_crew_is_filled_only_where_it_reinstated_the_core(tmp_path):
    assert _filled(tmp_path, ["HV-1,,B,,,dark"]).cores["crew"].isna().iloc[0]


def test_a_register_keeps_a_column_once_a_field_of_it_came_back(tmp_path):
    assert _filled(tmp_path, ["HV-1,,,,,dark"]).kept["shade_used"] == {"North"}


def test_a_cell_that_cannot_be_used_is_in_the_report(tmp_path):
    report = _filled(tmp_path, ["HV-1,,,many,,"]).report
    assert report[["line", "core_id", "column", "returned", "outcome"]].to_numpy().tolist() == [
        ["2", "HV-1", "bags_used", "many", "not used: not a number"]
    ]


def test_a_day_on_which_clocks_skip_midnight_is_written_as_a_day(tmp_path):
    (tmp_path / "back.csv").write_text("core_id,reinstated_at\nHV-1,2026-04-24\n", encoding="utf-8")
    returned = read_returns(Returns(path=["back.csv"]), tmp_path, "Africa/Cairo", day_first=None)
    cores = _cores(opened_on=_instants("2026-04-01", "2026-04-01", "2026-04-01"))
    for name in ("reopened_at", "reinstated_at", "opened_on"):
        cores[name] = cores[name].dt.tz_convert("Africa/Cairo")
    cores["reinstated_at"] = pd.Series(pd.NaT, cores.index, dtype="datetime64[us, Africa/Cairo]")
    cores["reinstated_at_text"] = pd.Series([None] * 3, dtype="str")
    filled = fill_returned(cores, {}, returned)
    assert filled.report["returned"].tolist() == ["2026-04-24"]
    assert filled.cores["reinstated_at_text"].tolist()[0] == "2026-04-24"
