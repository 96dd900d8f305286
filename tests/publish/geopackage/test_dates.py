"""Dates of tables as days, or as instants in UTC."""

import pandas as pd
import pyogrio

from pipeline.publish.geopackage.dates import as_dates, with_dates
from tests.publish.geopackage.sample import ask, cores_table
from tests.publish.geopackage.sample import write as write_sample


def _texts(*cells):
    return pd.Series(list(cells), dtype="str")


def test_a_column_of_days_holds_days():
    days = as_dates(_texts("2026-09-30", None, "2026-02-28", "2026-09-30"))
    assert str(days.dtype) == "date32[day][pyarrow]"
    assert days.astype("str").fillna("none").tolist() == ["2026-09-30", "none", "2026-02-28", "2026-09-30"]


def test_one_time_of_day_makes_a_column_of_instants_in_utc_and_a_day_stays_that_day():
    """09:30 at four hours behind UTC is 13:30 UTC."""
    instants = as_dates(_texts("2026-09-30T09:30-04:00", "2026-02-28", None))
    assert instants.dt.tz is not None
    assert instants.dt.strftime("%Y-%m-%d %H:%M").fillna("none").tolist() == [
        "2026-09-30 13:30", "2026-02-28 00:00", "none",
    ]  # fmt: skip


def test_a_column_without_any_date_holds_days_and_one_that_is_no_text_keeps_its_days():
    assert str(as_dates(_texts(None, None)).dtype) == "date32[day][pyarrow]"
    days = as_dates(pd.Series(pd.to_datetime(["2026-09-30"])))
    assert days.astype("str").tolist() == ["2026-09-30"]


def test_only_the_columns_named_change():
    table = with_dates(pd.DataFrame({"on": _texts("2026-09-30"), "permit_no": _texts("2026-09-30")}), ["on", "until"])
    assert list(table) == ["on", "permit_no"]
    assert table["permit_no"].tolist() == ["2026-09-30"]


def test_gdal_reads_days_and_instants_from_a_pack(tmp_path):
    table = cores_table()[["row", "core_id"]].assign(
        opened_on=_texts(*["2026-09-01"] * 5, None),
        reinstated_at=_texts("2026-09-10T16:45-04:00", "2026-09-11", *[None] * 4),
        plated_on=_texts(*["2026-09-02"] * 6),
        permit_no=_texts(*["2026-09-02"] * 6),
    )
    path = write_sample(tmp_path / "pack.gpkg", table, is_pack=True)
    kinds = dict(ask(path, "SELECT name, type FROM pragma_table_info('cores')"))
    assert (kinds["opened_on"], kinds["plated_on"], kinds["reinstated_at"]) == ("DATE", "DATE", "DATETIME")
    assert kinds["permit_no"] == "TEXT"
    read = pyogrio.read_dataframe(path, layer="cores")
    assert read["opened_on"].dt.strftime("%Y-%m-%d").fillna("none").tolist() == ["2026-09-01"] * 5 + ["none"]
    assert read["reinstated_at"].dt.strftime("%Y-%m-%d %H:%M").tolist()[:2] == ["2026-09-10 20:45", "2026-09-11 00:00"]


def test_in_a_runs_own_package_a_column_of_the_register_stays_as_it_was_read(tmp_path):
    path = write_sample(tmp_path / "run.gpkg", cores_table({"plated_on": ["2026-09-02"] * 6}))
    kinds = dict(ask(path, "SELECT name, type FROM pragma_table_info('cores')"))
    assert (kinds["opened_on"], kinds["plated_on"]) == ("DATE", "TEXT")
