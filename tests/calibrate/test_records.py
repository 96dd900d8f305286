"""Which cores have a record of use."""

import pandas as pd
import pytest

from pipeline.calibrate import records_of_use


def _records(**changed):
    """One reinstated core with a record, changed as said."""
    row = {
        "bags_used": 0.8, "reinstated_at": pd.Timestamp("2026-09-01", tz="UTC"), "is_copy": False,
        "bedding": "pea gravel", "reinstatable": True, "crew": " Crew A", "register": "north", "hole_mm": 457.2, "depth_believed_mm": 304.8, "is_thin": False,
    } | changed  # fmt: skip
    table = pd.DataFrame([row], index=[7])
    table["reinstated_at"] = pd.to_datetime(table["reinstated_at"], utc=True)
    return records_of_use(table, table, table, pd.Series([8.2], table.index))


def test_a_reinstated_core_has_a_record_with_all_columns():
    found = _records()
    assert found.index.tolist() == [7]
    assert found.iloc[0].to_dict() == {
        "hole_mm": 457.2, "depth_mm": 304.8, "bedding": "pea gravel", "bags_used": 0.8, "grout_used_l": 8.2,
        "crew": "Crew A", "is_usable": True,
    }  # fmt: skip


@pytest.mark.parametrize(
    "changed", [{"reinstated_at": None}, {"is_copy": True}, {"is_thin": True}, {"reinstatable": False}]
)
def test_open_duplicate_thin_and_unsuitable_cores_have_none(changed):
    assert not _records(**changed)["is_usable"].iloc[0]


def test_a_missing_size_stays_missing():
    found = _records(hole_mm=float("nan"), depth_believed_mm=float("nan"))
    assert found[["hole_mm", "depth_mm"]].isna().all(axis=None)
    assert found["is_usable"].iloc[0]


def test_neither_table_is_changed():
    row = pd.DataFrame(
        {
            "bags_used": [1.0], "reinstated_at": pd.to_datetime(["2026-09-01"], utc=True), "is_copy": [False],
            "bedding": ["pea gravel"], "reinstatable": [True], "hole_mm": [450.0], "depth_believed_mm": [200.0],
            "is_thin": [False], "crew": ["A"], "register": ["north"],
        }
    )  # fmt: skip
    before = row.copy()
    records_of_use(row, row, row, pd.Series([9.0]))
    pd.testing.assert_frame_equal(row, before)


def test_crews_of_different_registers_are_different_crews():
    row = {"bags_used": 1.0, "is_copy": False, "bedding": "pea gravel", "reinstatable": True, "hole_mm": 450.0}
    table = pd.DataFrame([row | {"depth_believed_mm": 200.0, "is_thin": False}] * 3)
    table = table.assign(crew=["A", "A", None], register=["north", "south", "south"])
    table["reinstated_at"] = pd.to_datetime(["2026-09-01"] * 3, utc=True)
    assert records_of_use(table, table, table, table["bags_used"])["crew"].tolist() == ["A (north)", "A (south)", ""]
    assert records_of_use(*[table[:1]] * 3, table["bags_used"][:1])["crew"].tolist() == ["A"]
