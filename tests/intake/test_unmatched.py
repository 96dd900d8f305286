"""Names that match nothing: refused where they cannot be, else reported with what the data have."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.errors import SettingsError
from pipeline.intake.stock import StockTable
from pipeline.intake.unmatched import (
    district_names,
    refuse_unknown_items,
    unmatched_names,
    unmatched_stock,
    yard_names,
)
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.orders import Ordering
from pipeline.programme.settings import Settings

_CATALOGUE = load_catalogue({}, "test")
_HERE = [shapely.Point(0, 0)]


def _districts(*names):
    return gpd.GeoDataFrame({"district": pd.Series(names, dtype="str")}, geometry=_HERE * len(names))


def _texts(**columns):
    return pd.DataFrame({name: pd.Series(cells, dtype="str") for name, cells in columns.items()})


def _notices(districts=("Mill Bank", "Old Market"), **sections):
    settings = Settings.model_validate(
        {"programme": {"name": "Town"}, "cores": {"path": "c.csv"}, "roads": {"path": "r.gpkg"}, **sections}
    )
    cores = _texts(position_method=["rtk", "rtk", "Phone ", None], surface_recorded=["conc", None, None, None])
    cores["register"] = "c"
    segments = _texts(
        surface=["asphalt", None], road_authority=["Vale County", "Town Council"], class_name=["main", "local"]
    )
    surfaces = _texts(surface=["block paving"])
    return unmatched_names(settings, _CATALOGUE, cores, segments, surfaces, _districts(*districts))


def test_an_item_that_does_not_exist_is_refused_with_the_nearest():
    with pytest.raises(SettingsError) as error:
        refuse_unknown_items(Ordering(items={"grout-dark": {"pallet": 10}}), _CATALOGUE.items)
    assert str(error.value) == (
        'orders.items: found "grout-dark", expected one of: "grout dark", "grout pale", "pea gravel". '
        'Did you mean "grout dark"? Correct it.'
    )


@pytest.mark.parametrize("written", ["grout dark", "Grout Dark", " grout  dark"])
def test_an_item_written_in_other_case_is_that_item(written):
    ordering = Ordering(items={written: {"pallet": 10}})
    refuse_unknown_items(ordering, _CATALOGUE.items)
    assert ordering.packing_of("grout dark").pallet == 10


def test_a_programme_whose_names_all_match_has_no_notice():
    found = _notices(
        orders={"yards": {"mill bank": "North yard", "OLD MARKET": "South yard"}},
        matching={"accuracy_by_method": {"RTK": "0.5 m", "phone": "10 m"}},
        thresholds={
            "where": [
                {"road_authority": "vale county ", "code": "wales"},
                {"road_class": "main", "surface": "concrete", "code": "wales"},
                {"surface": "block paving", "code": "wales"},
            ]
        },
    )
    assert found == []


@pytest.mark.parametrize(
    ("sections", "notice"),
    [
        (
            {"orders": {"yards": {"Mil Bank": "North yard"}}},
            (
                'orders.yards: no district is called "Mil Bank", so its yard supplies no district. Did you mean "Mill Bank"? '
                'The data have: "Mill Bank", "Old Market", "(no district)".'
            ),
        ),
        (
            {"matching": {"accuracy_by_method": {"phones": "9 m"}}},
            (
                'matching.accuracy_by_method: no position method of the register is called "phones", so its accuracy applies '
                'to no core. Did you mean "Phone"? The data have: "rtk", "Phone".'
            ),
        ),
        (
            {"thresholds": {"where": [{"road_authority": "Vale Country", "code": "wales"}]}},
            (
                'thresholds.where no. 1.road_authority: no road authority is called "Vale Country", so these thresholds apply to '
                'no core. Did you mean "Vale County"? The data have: "Vale County", "Town Council".'
            ),
        ),
        (
            {"thresholds": {"where": [{"road_class": "footway", "code": "wales"}]}},
            (
                'thresholds.where no. 1.road_class: no road class is called "footway", so these thresholds apply to no core. '
                'The data have: "main", "local".'
            ),
        ),
        (
            {"thresholds": {"where": [{"surface": "unbound", "code": "wales"}]}},
            (
                'thresholds.where no. 1.surface: no surface is called "unbound", so these thresholds apply to no core. '
                'The data have: "asphalt", "block paving", "concrete".'
            ),
        ),
    ],
)
def test_a_name_that_matches_nothing_is_reported_with_what_the_data_have(sections, notice):
    assert _notices(**sections) == [notice]


def test_of_many_names_ten_are_listed():
    (notice,) = _notices([f"Ward {letter}" for letter in "ABCDEFGHIJKL"], orders={"yards": {"Quayside": "Yard"}})
    assert notice.endswith('"Ward I", "Ward J" and 3 more.')


def test_without_a_layer_of_districts_only_the_cores_in_none_have_one():
    assert district_names(None) == ["(no district)"]


def test_stock_may_lie_in_the_yard_of_a_district_or_in_one_that_the_programme_names():
    ordering = Ordering(yards={"Mill Bank": "North yard", "Gone": "East yard", "old market": "north YARD"})
    assert yard_names(ordering, _districts("Mill Bank", "Old Market", "Quay")) == [
        "East yard", "North yard", "Quay", "(no district)",
    ]  # fmt: skip


def test_stock_of_a_yard_that_supplies_no_district_of_the_data_is_reported():
    stock = StockTable(
        pd.DataFrame({"yard": ["North yard", "East yard", "East yard"], "packs": [5.0, 4.0, 6.0]}), "stock.csv", 3
    )
    ordering = Ordering(yards={"Mill Bank": "North yard", "Gone": "East yard"})
    assert unmatched_stock(stock, ordering, _districts("Mill Bank")) == [
        (
            'stock.csv: the yard "East yard" supplies no district of the data, so its 10 packs of stock are not counted. '
            "Check [orders.yards]."
        )
    ]
