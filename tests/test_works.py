"""Works as they are listed, and the cores in each."""

import datetime as dt

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline import works as module
from pipeline.audit.rules.network import ProtectionLimits
from pipeline.audit.worst import count_worst
from pipeline.locate import Works
from pipeline.works import list_works, works_notices

_AS_OF = dt.date(2026, 9, 30)
_ZONE = "America/Toronto"


@pytest.fixture(autouse=True)
def five_years(monkeypatch):
    """A resurfaced road is protected for five years, on a main road for ten."""

    def limits(_rules, _slug, _kind, roads):
        return ProtectionLimits(roads["road_class"].eq("main").map({True: 120.0, False: 60.0}))

    monkeypatch.setattr(module, "limits_of", limits)


def _days(*days):
    return pd.Series(pd.to_datetime(list(days))).dt.tz_localize(_ZONE).astype(f"datetime64[us, {_ZONE}]")


def _layer(shapes, on, until=None, **texts):
    count = len(shapes)
    columns = {
        name: pd.Series(texts.get(name, [None] * count), dtype="str") for name in ("works_id", "name", "segment_id")
    }
    return gpd.GeoDataFrame(
        {"feature": range(1, count + 1), "on": _days(*on), "until": _days(*(until or [None] * count)), **columns},
        geometry=shapes,
        crs=32617,
    )


def _segments():
    """Quay Road runs 200 m along the x axis; Mill Street crosses it at 100 m, and is a main road."""
    return gpd.GeoDataFrame(
        {
            "segment_id": ["S1", "S2"],
            "street": ["Quay Road", "Mill Street"],
            "class_name": ["local", "main"],
            "road_authority": ["Town", "Town"],
            "surface": ["asphalt", "asphalt"],
        },
        geometry=[shapely.LineString([(0, 0), (200, 0)]), shapely.LineString([(100, -100), (100, 100)])],
        crs=32617,
    )


def _cores(**cells):
    """Three cores in Quay Road at 10, 50 and 150 m, one in Mill Street, and one that lies nowhere."""
    return pd.DataFrame(
        {
            "row": [1, 2, 3, 4, 5],
            "core_id": list("ABCDE"),
            "x_m": [10.0, 50.0, 150.0, 100.0, None],
            "y_m": [0.0, 0.0, 0.0, 80.0, None],
            "segment_id": pd.Series(["S1", "S1", "S1", "S2", None], dtype="str"),
            "street_matched": pd.Series(["Quay Road"] * 3 + ["Mill Street", None], dtype="str"),
            "district": "North",
            "state": ["open", "back", "interim", "plated", "open"],
            "status": ["flagged", "reinstated", "pending", "pending", "pending"],
            "urgency": pd.Series(["hazard", None, "overdue", "quality", None], dtype="str"),
            "is_copy": False,
        }
    ).assign(**cells)


def _listed(cores=None, **layers):
    works = Works(None, layers.get("resurfaced"), layers.get("planned"), layers.get("protected"))
    return list_works(_cores() if cores is None else cores, _segments(), works, 6.0, [], _AS_OF)


_QUAY = shapely.box(0, -5, 120, 5)


def test_works_list_every_core_in_them_whatever_its_state_and_count_the_worst():
    works, cores = _listed(planned=_layer([_QUAY], ["2026-11-03"], ["2026-11-20"], name=["Quay renewal"]))
    assert cores["core_id"].tolist() == ["A", "B"]
    assert cores["state"].tolist() == ["open", "back"]
    row = works.iloc[0]
    assert (row["works_id"], row["kind"], row["on"], row["until"]) == (
        "Quay renewal", "planned", "2026-11-03", "2026-11-20",
    )  # fmt: skip
    assert row[["cores", "cores_open", "cores_hazard", "cores_overdue"]].tolist() == [2, 1, 1, 0]


def test_a_street_that_only_crosses_the_works_is_not_one_of_theirs():
    # 10 m of Mill Street lie in the area, and 120 m of Quay Road
    assert _listed(planned=_layer([_QUAY], ["2026-11-03"])).works["streets"].tolist() == ["Quay Road"]


def test_works_of_a_segment_hold_its_cores_and_a_line_those_within_reach():
    layer = _layer(
        [shapely.LineString([(0, 900), (9, 900)]), shapely.LineString([(100, 75), (100, 85)])],
        ["2026-11-03", "2026-11-04"],
        segment_id=["S1", None],
    )
    works, cores = _listed(planned=layer)
    assert cores.groupby("works_id", sort=False)["core_id"].agg("".join).to_dict() == {
        "planned-1": "ABC",
        "planned-2": "D",
    }
    assert works["streets"].tolist() == ["Quay Road", "Mill Street"]


def test_a_resurfaced_road_is_protected_as_long_as_the_limit_of_its_class_says():
    """Five years after 2021-09-30 is the day of the audit, on which the protection has ended."""
    layer = _layer(
        [_QUAY] * 3, ["2021-10-01", "2021-09-30", "2017-05-01"], segment_id=["S1", "S1", "S2"], name=["a", "b", "c"]
    )
    works = _listed(resurfaced=layer).works.set_index("works_id")
    assert works["kind"].to_dict() == {"a": "protected", "c": "protected", "b": "resurfaced"}
    assert works["until"].fillna("none").to_dict() == {"a": "2026-10-01", "c": "2027-05-01", "b": "none"}


def test_features_of_the_same_name_and_days_are_one_works_with_both_shapes():
    layer = _layer(
        [_QUAY, shapely.LineString([(100, 0), (100, 100)]), _QUAY],
        ["2026-11-03", "2026-11-03", "2027-11-03"],
        name=["Renewal", "Renewal", "Other"],
    )
    works, cores = _listed(planned=layer)
    assert works["works_id"].tolist() == ["Renewal", "Other"]
    assert [part.geom_type for part in works.geometry.iloc[0].geoms] == ["Polygon", "LineString"]
    assert cores.loc[cores["works_id"].eq("Renewal"), "core_id"].tolist() == ["A", "B", "D"]


def test_an_id_is_the_works_own_else_their_name_else_layer_and_number():
    layer = _layer(
        [_QUAY] * 4,
        ["2026-11-01", "2026-11-02", "2026-11-03", "2026-11-04"],
        works_id=["W-7", None, None, None],
        name=["x", "Quay", "Same", "Same"],
    )
    # two works of one name, on different days, are told apart by their numbers in the layer
    assert _listed(planned=layer).works["works_id"].tolist() == ["W-7", "Quay", "planned-3", "planned-4"]


def test_works_of_one_id_on_different_days_last_from_the_first_to_the_last():
    layer = _layer(
        [_QUAY] * 2,
        ["2026-12-01", "2026-11-01"],
        ["2026-12-02", "2026-11-30"],
        works_id=["W-7", "W-7"],
        name=["b", "a"],
    )
    row = _listed(planned=layer).works.iloc[0]
    assert (row["works_id"], row["on"], row["until"]) == ("W-7", "2026-11-01", "2026-12-02")


def test_a_road_resurfaced_twice_is_protected_after_the_last_time():
    layer = _layer([_QUAY] * 2, ["2010-05-01", "2025-05-01"], segment_id=["S1", "S1"], works_id=["R-1", "R-1"])
    row = _listed(resurfaced=layer).works.iloc[0]
    assert (row["kind"], row["on"], row["until"]) == ("protected", "2025-05-01", "2030-05-01")


def test_a_protection_that_has_ended_is_not_listed_and_planned_works_that_have_ended_are():
    """The day on which a protection ends is not protected; the last day of works is one of theirs."""
    days = ["2026-09-29", "2026-09-30", "2026-10-01"]
    protected = _layer([_QUAY] * 3, [None] * 3, days, name=["gone", "ends", "in force"])
    planned = _layer([_QUAY] * 3, ["2026-09-01"] * 3, days, name=["done", "closing", "open"])
    assert set(_listed(protected=protected, planned=planned).works["works_id"]) == {
        "in force",
        "done",
        "closing",
        "open",
    }
    assert works_notices(Works(None, None, planned, protected), _AS_OF) == [
        (
            "[planned_works]: 1 feature with the last day before the audit (2026-09-30), still listed as planned. Remove "
            "what is finished."
        ),
        (
            "[protected]: 2 features with a protection that has ended by the audit (2026-09-30), not listed. Remove them, "
            "or correct `until`."
        ),
    ]


def test_without_any_protection_in_force_there_is_no_list():
    assert _listed(protected=_layer([_QUAY], [None], ["2026-01-01"], name=["gone"])) is None


def test_an_id_in_two_layers_is_reported():
    planned = _layer([_QUAY] * 2, ["2026-11-01"] * 2, works_id=["W-1", "W-1"])
    protected = _layer([_QUAY], [None], ["2027-01-01"], works_id=["W-1"])
    assert works_notices(Works(None, None, planned, protected), _AS_OF) == [
        (
            '1 works id in more than one layer (such as "W-1"): listed by layer and number instead. Use each id in one '
            "layer only."
        )
    ]
    assert works_notices(Works(None, None, planned), _AS_OF) == []


def test_a_core_in_several_rows_is_listed_once_and_one_without_a_position_in_no_area():
    cores = _cores(is_copy=[False, True, False, False, False])
    assert _listed(cores, planned=_layer([shapely.box(-999, -999, 999, 999)], ["2026-11-03"])).cores[
        "core_id"
    ].tolist() == ["A", "C", "D"]


def test_without_a_layer_of_works_there_is_no_list():
    assert _listed() is None


def test_works_without_a_core_are_listed_with_none():
    works, cores = _listed(protected=_layer([shapely.box(900, 900, 910, 910)], [None], ["2027-01-01"], name=["Far"]))
    assert works[["kind", "cores", "cores_open"]].to_numpy().tolist() == [["protected", 0, 0]]
    assert cores.empty


def test_the_worst_is_counted_by_whatever_is_asked():
    counts = count_worst(_cores(), _cores()["street_matched"])
    assert counts.loc["Quay Road"].tolist() == [2, 1, 1]
    assert counts.loc["Mill Street"].tolist() == [1, 0, 0]
    handed = _cores().drop(columns="state")
    assert list(count_worst(handed, handed["street_matched"])) == ["cores_hazard", "cores_overdue"]


def test_a_scheme_on_roads_that_are_protected_for_different_times_is_one_works():
    layer = _layer([_QUAY] * 2, ["2024-06-01"] * 2, segment_id=["S1", "S2"], name=["Scheme"] * 2)
    works = _listed(resurfaced=layer).works
    assert works[["works_id", "until"]].to_numpy().tolist() == [["Scheme", "2034-06-01"]]
