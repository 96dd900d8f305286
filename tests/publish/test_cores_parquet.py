"""The table of cores as GeoParquet: what it holds, and that a filter by box finds what a look at every row finds."""

import json

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyarrow import dataset, parquet

from pipeline.programme.outputs import Publish
from pipeline.publish import cores_parquet
from pipeline.publish.cores_parquet import by_place, write_cores_parquet
from pipeline.readback.cores_table import read_cores_table, where_cores_are

PARTS = Publish(parquet="in parts", parquet_rows=170)


def _cores(count=1000, seed=4):
    """Cores on a grid of whole hundredths, so that many share a line with the edge of a box; one in ten unplaced."""
    draw = np.random.default_rng(seed)
    lon, lat = draw.integers(-20, 20, count) / 100, 50 + draw.integers(-20, 20, count) / 100
    lon[draw.random(count) < 0.1] = np.nan
    return pd.DataFrame(
        {
            "row": np.arange(1, count + 1),
            "core_id": pd.Series([f"=C{number}" for number in range(count)], dtype="str"),
            "district": pd.Series(np.where(np.isnan(lon), None, np.where(lon < 0, "West", "East")), dtype="str"),
            "bags": draw.random(count),
            "lon": lon,
            "lat": np.where(np.isnan(lon), np.nan, lat),
        }
    )


@pytest.fixture(params=["one file", "in parts"])
def written(tmp_path, monkeypatch, request):
    """The table, and where it was written, in groups small enough that a box leaves some out."""
    monkeypatch.setattr(cores_parquet, "ROWS_OF_GROUP", 50)
    table = _cores()
    write_cores_parquet(table, tmp_path, PARTS if request.param == "in parts" else Publish())
    return table, where_cores_are(tmp_path)


def test_a_box_finds_the_rows_that_a_look_at_every_row_finds(written):
    table, place = written
    draw = np.random.default_rng(7)
    # corners on the grid of the cores, so that edges go through them; some boxes are points or hold nothing
    corners = draw.integers(-22, 22, (60, 4)) / 100
    lows, highs = np.minimum(corners[:, :2], corners[:, 2:]), np.maximum(corners[:, :2], corners[:, 2:])
    boxes = [(west, 50 + south, east, 50 + north) for (west, south), (east, north) in zip(lows, highs, strict=True)]
    found = 0
    for west, south, east, north in [*boxes, (-180, -90, 180, 90), (1, 1, 2, 2)]:
        inside = table["lon"].between(west, east) & table["lat"].between(south, north)
        read = gpd.read_parquet(place, bbox=(west, south, east, north))
        assert sorted(read["row"]) == table["row"][inside].tolist()
        found += len(read)
    assert found > 1000


def test_a_filter_of_rows_finds_the_same_too(written):
    table, place = written
    read = gpd.read_parquet(place, filters=[("district", "==", "West"), ("bags", "<", 0.5)])
    assert sorted(read["row"]) == table["row"][table["district"].eq("West") & table["bags"].lt(0.5)].tolist()


def test_the_points_are_those_of_the_columns_and_missing_where_these_are(written):
    table, place = written
    read = gpd.read_parquet(place).sort_values("row", ignore_index=True)
    assert read.crs == "EPSG:4326"
    assert read.geometry.isna().equals(table["lon"].isna())
    assert (
        shapely.get_coordinates(read.geometry.dropna()).tolist() == table[["lon", "lat"]].dropna().to_numpy().tolist()
    )
    assert read.drop(columns="geometry").astype(table.dtypes).equals(pd.DataFrame(table))


def test_the_table_comes_back_in_the_order_of_the_register_without_points(written):
    table, place = written
    assert read_cores_table(place).astype(table.dtypes).equals(table)
    assert read_cores_table(place, ["core_id", "row"]).columns.tolist() == ["core_id", "row"]


def test_one_file_is_geoparquet_1_1_with_a_covering_in_the_order_of_the_register(tmp_path):
    table = _cores(120_000)
    write_cores_parquet(table, tmp_path, Publish())
    file = parquet.ParquetFile(tmp_path / "cores.parquet")
    about = json.loads(file.schema_arrow.metadata[b"geo"])
    sides = {side: ["bbox", side] for side in ("xmin", "ymin", "xmax", "ymax")}
    assert (about["version"], about["columns"]["geometry"]["covering"]) == ("1.1.0", {"bbox": sides})
    assert [file.metadata.row_group(number).num_rows for number in range(3)] == [50_000, 50_000, 20_000]
    assert file.read(["row"])["row"].to_pylist() == table["row"].tolist()


def test_parts_hold_each_row_once_and_no_more_rows_than_asked_for(tmp_path):
    write_cores_parquet(_cores(), tmp_path, PARTS)
    names = [f"part-{number:04}.parquet" for number in range(1, 7)]
    assert sorted(file.name for file in (tmp_path / "cores").iterdir()) == names
    counts = [parquet.read_metadata(tmp_path / "cores" / name).num_rows for name in names]
    assert counts == [170, 170, 170, 170, 170, 150]
    assert sorted(dataset.dataset(tmp_path / "cores").to_table()["row"].to_pylist()) == [*range(1, 1001)]
    assert not (tmp_path / "cores.parquet").exists()


def test_by_place_puts_neighbours_together_so_that_a_box_passes_over_most_groups(tmp_path, monkeypatch):
    monkeypatch.setattr(cores_parquet, "ROWS_OF_GROUP", 500)
    draw = np.random.default_rng(1)
    lon, lat = draw.random(20_000), draw.random(20_000)
    # 16 districts as squares
    district = pd.Series(np.char.add("D", (4 * (4 * lon).astype(int) + (4 * lat).astype(int)).astype(str)), dtype="str")
    table = pd.DataFrame({"row": np.arange(20_000), "district": district, "lon": lon, "lat": lat})
    touched = {}
    for how in ("one file", "in parts"):
        (tmp_path / how).mkdir()
        write_cores_parquet(table, tmp_path / how, Publish(parquet=how, parquet_rows=5000))
        groups = [
            parquet.ParquetFile(file).metadata.row_group(number)
            for file in sorted((tmp_path / how).rglob("*.parquet"))
            for number in range(parquet.read_metadata(file).num_row_groups)
        ]
        assert len(groups) == 40
        touched[how] = sum(map(_meets, groups))
    assert touched["one file"] == 40
    assert touched["in parts"] <= 4


def _meets(group):
    """Whether the box of a group of rows, by its statistics, meets a box of a hundredth of the area."""
    sides = {group.column(at).path_in_schema: group.column(at).statistics for at in range(group.num_columns)}
    return (
        sides["bbox.xmin"].min <= 0.4
        and sides["bbox.xmax"].max >= 0.3
        and sides["bbox.ymin"].min <= 0.4
        and sides["bbox.ymax"].max >= 0.3
    )


def test_cores_in_no_district_are_one_group_and_unplaced_ones_the_last():
    table = _cores(200)
    table.loc[table.index[::3], "district"] = None
    in_order = table.iloc[by_place(table)]
    assert sorted(in_order["row"]) == table["row"].tolist()
    changes = in_order["district"].fillna("").ne(in_order["district"].fillna("").shift()).sum()
    placed = in_order["lon"].notna()
    assert placed.tolist() == sorted(placed, reverse=True)
    assert changes <= 4


@pytest.mark.parametrize("how", ["one file", "in parts"])
def test_a_register_without_any_position_can_still_be_written_and_read(tmp_path, how):
    table = _cores(5).assign(lon=np.nan, lat=np.nan)
    write_cores_parquet(table, tmp_path, Publish(parquet=how))
    read = gpd.read_parquet(where_cores_are(tmp_path))
    assert read["row"].tolist() == [1, 2, 3, 4, 5]
    assert read.geometry.isna().all()
    assert gpd.read_parquet(where_cores_are(tmp_path), bbox=(-180, -90, 180, 90)).empty


def test_a_table_of_an_earlier_version_keeps_columns_of_its_own_named_like_those_of_places(tmp_path):
    table = pd.DataFrame({"row": [1], "bbox": ["as read"], "geometry": ["here"]})
    table.to_parquet(tmp_path / "cores.parquet")
    assert read_cores_table(tmp_path / "cores.parquet").columns.tolist() == ["row", "bbox", "geometry"]


def test_a_folder_without_parts_is_an_error(tmp_path):
    (tmp_path / "cores").mkdir()
    with pytest.raises(FileNotFoundError, match="no part of the table"):
        read_cores_table(where_cores_are(tmp_path))
