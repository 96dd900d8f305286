"""Folders of Parquet files: read as one table, the same as another library reads them, or refused in words."""

import os
import subprocess
import sys

import geopandas as gpd
import pandas as pd
import pyarrow as pa
import pytest
import shapely
from pyarrow import dataset, parquet

from pipeline.errors import InputError
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.parquet import read_parquet_parts
from pipeline.intake.files.parquet_parts import parquet_parts
from pipeline.programme.settings import Cores, Layer


def _points(ids, crs=32617, **columns):
    return gpd.GeoDataFrame({"id": ids, **columns}, geometry=[shapely.Point(at, at) for at in range(len(ids))], crs=crs)


def _written(folder, **parts):
    for name, frame in parts.items():
        file = folder / name.replace("__", "/").replace("_at_", "=")
        file.parent.mkdir(parents=True, exist_ok=True)
        frame.to_parquet(f"{file}.parquet")
    return folder


def test_parts_are_one_table_with_numbers_in_names_in_the_order_of_their_size(tmp_path):
    _written(tmp_path / "cores", **{f"part-{number}": _points([f"c{number}"]) for number in (10, 9, 1)})
    table = read_raw(Cores(path="cores/"), tmp_path, "cores", None)
    assert table.frame["id"].tolist() == ["c1", "c9", "c10"]
    assert table.rows.tolist() == [1, 2, 3]
    assert table.rows_in_file == 3
    assert table.crs.to_epsg() == 32617
    assert len(table.geometry) == 3
    assert list(table.part_sums) == ["cores/part-1.parquet", "cores/part-9.parquet", "cores/part-10.parquet"]
    for name, sha256 in table.part_sums.items():
        printed = subprocess.run(["sha256sum", tmp_path / name], capture_output=True, text=True, check=True).stdout
        assert printed.startswith(sha256)


@pytest.mark.parametrize("covering", [False, True])
def test_a_covering_is_no_column_and_changes_nothing(tmp_path, covering):
    frame = _points(["a", "b", "c"])
    frame.loc[1, "geometry"] = None
    frame.to_parquet(tmp_path / "one.parquet", write_covering_bbox=covering)
    (tmp_path / "many").mkdir()
    for at in range(3):
        frame.iloc[[at]].to_parquet(tmp_path / "many" / f"{at}.parquet", write_covering_bbox=covering)
    for path in ("one.parquet", "many"):
        table = read_raw(Layer(path=path), tmp_path, "districts", None)
        assert table.frame.columns.tolist() == ["id"]
        assert table.frame["id"].tolist() == ["a", "b", "c"]
        assert [None if shape is None else shape.x for shape in table.geometry] == [0.0, None, 2.0]


def test_folders_by_value_are_columns_as_another_reader_has_them(tmp_path):
    frames = {
        "district_at_North__year_at_2025__part-0": pd.DataFrame({"id": ["a"], "dia": [450]}),
        "district_at_North__year_at_2026__part-0": pd.DataFrame({"id": ["b"], "dia": [300]}),
        "district_at_Old Town%2FQuay__year_at_2026__part-0": pd.DataFrame({"id": ["c"], "dia": [None]}).astype(
            {"dia": float}
        ),
        "district_at___HIVE_DEFAULT_PARTITION____year_at_2026__part-0": pd.DataFrame({"id": ["d"], "dia": [1.5]}),
    }
    for name, frame in frames.items():
        district, rest = name.removeprefix("district_at_").split("__year_at_")
        year = rest.partition("__")[0]
        folder = tmp_path / "cores" / f"district={district}" / f"year={year}"
        folder.mkdir(parents=True)
        frame.to_parquet(folder / "part-0.parquet")
    table = read_raw(Cores(path="cores"), tmp_path, "cores", None)
    mine = table.frame.sort_values("id", ignore_index=True)
    # year is a number there
    fields = pa.schema([("district", pa.string()), ("year", pa.string())])
    files = dataset.dataset(tmp_path / "cores", partitioning=dataset.partitioning(fields, flavor="hive"))
    theirs = files.to_table(columns=["id", "district", "year"]).to_pandas().sort_values("id", ignore_index=True)
    assert mine[["id", "district", "year"]].fillna("none").equals(theirs.astype("str").fillna("none"))
    assert mine["dia"].fillna("").tolist() == ["450", "300", "", "1.5"]
    assert mine["district"].tolist()[2] == "Old Town/Quay"


def test_a_single_file_is_what_it_holds_whatever_its_folder_is_called(tmp_path):
    (tmp_path / "district=North").mkdir()
    for name, frame in (("a", pd.DataFrame({"id": [1]})), ("b", _points([1]))):
        frame.to_parquet(tmp_path / "district=North" / f"{name}.parquet")
        table = read_raw(Layer(path=f"district=North/{name}.parquet"), tmp_path, "roads", None)
        assert table.frame.columns.tolist() == ["id"]


def test_columns_may_come_in_any_order_and_whole_numbers_beside_missing_ones(tmp_path):
    _written(
        tmp_path / "c",
        a=pd.DataFrame({"id": ["a"], "dia": [2**53 + 1], "note": pd.Series([None], dtype="object")}),
        b=pd.DataFrame({"note": ["x"], "dia": [450.0], "id": ["b"]}),
    )
    table = read_parquet_parts(tmp_path / "c", "c")
    assert table.frame.fillna("").to_numpy().tolist() == [["a", str(2**53 + 1), ""], ["b", "450", "x"]]


def test_files_aside_are_ignored_and_parts_without_rows_add_none(tmp_path):
    folder = _written(
        tmp_path / "cores.parquet", a=_points(["a"]), b=_points([]).astype({"id": "str"}), deep__c=_points(["c"])
    )
    for name in ("_metadata", "_SUCCESS", ".part.crc", "_tmp/x.parquet", ".hidden/y.csv"):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(b"no data")
    table = read_raw(Cores(path="cores.parquet"), tmp_path, "cores", None)
    assert table.frame["id"].tolist() == ["a", "c"]
    assert len(table.part_sums) == 3


def test_a_layer_may_have_shapes_and_no_column(tmp_path):
    _written(tmp_path / "in", a=_points(["a"])[["geometry"]], b=_points(["b", "c"])[["geometry"]])
    assert len(read_parquet_parts(tmp_path / "in", "in").geometry) == 3
    assert len(read_raw(Layer(path="in/b.parquet"), tmp_path, "joints", None).geometry) == 2


def test_a_layer_and_a_condition_apply_to_parts_too(tmp_path):
    _written(tmp_path / "cores", a=_points(["a", "b"]), b=_points(["c"]))
    assert read_raw(Cores(path="cores", where="id <> 'b'"), tmp_path, "cores", None).rows.tolist() == [1, 3]


def _bad_crs(folder):
    _written(folder, a=_points(["a"]), b=_points(["b"], crs=4326))


def _no_crs(folder):
    _written(folder, a=_points(["a"]), b=_points(["b"], crs=None))


def _fewer_columns(folder):
    _written(folder, a=_points(["a"], dia=[1]), b=_points(["b"]))


def _more_columns(folder):
    _written(folder, a=_points(["a"]), b=_points(["b"], dia=[1]))


def _other_kind(folder):
    _written(folder, a=_points(["a"], dia=[1]), b=_points(["b"], dia=["1 in"]))


def _other_kind_after_a_missing_one(folder):
    frames = [_points([f"c{at}"], dia=pd.Series([dia], dtype="object")) for at, dia in enumerate((None, 1, "x"))]
    _written(folder, **{f"p{at}": frame for at, frame in enumerate(frames)})


def _without_shapes(folder):
    _written(folder, a=_points(["a"]), b=pd.DataFrame({"id": ["b"]}))


def _damaged(folder):
    _written(folder, a=_points(["a"]))
    (folder / "b.parquet").write_bytes((folder / "a.parquet").read_bytes()[:-20])


def _empty_file(folder):
    _written(folder, a=_points(["a"]))
    (folder / "b.parquet").touch()


def _nothing(folder):
    folder.mkdir()
    (folder / "_metadata").touch()


def _no_rows(folder):
    _written(folder, a=_points([]), b=_points([]))


def _other_files(folder):
    _written(folder, a=_points(["a"]))
    (folder / "b.csv").write_text("id\n1\n")
    (folder / "z.gpkg").touch()


def _folder_and_column(folder):
    _written(folder, id_at_x__a=pd.DataFrame({"id": [1]}))


def _keys_in_one_alone(folder):
    _written(folder, k_at_x__a=pd.DataFrame({"id": [1]}), z=pd.DataFrame({"id": [1]}))


def _link(folder):
    _written(folder, a=_points(["a"]))
    (folder / "b.parquet").symlink_to(folder / "a.parquet")


def _pipe(folder):
    _written(folder, a=_points(["a"]))
    os.mkfifo(folder / "b.parquet")


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (
            _bad_crs,
            r"^in/b\.parquet: its CRS is WGS 84, expected that of in/a\.parquet, WGS 84 / UTM zone 17N\. Export all",
        ),
        (_no_crs, r"^in/b\.parquet: its CRS is none, expected that of in/a\.parquet"),
        (
            _fewer_columns,
            r"^in/b\.parquet: no column 'dia', which in/a\.parquet has; expected the same columns in every",
        ),
        (
            _more_columns,
            r"^in/a\.parquet: no column 'dia', which in/b\.parquet has; expected the same columns in every",
        ),
        (_other_kind, r"^in/b\.parquet: column 'dia' has text, expected numbers as in in/a\.parquet"),
        (
            _other_kind_after_a_missing_one,
            r"^in/p2\.parquet: column 'dia' has text, expected numbers as in in/p0\.parquet",
        ),
        (_without_shapes, r"^in/b\.parquet: the part has no geometry, expected geometry as in in/a\.parquet"),
        (_damaged, r"^in/b\.parquet: cannot be read as Parquet \(.+\)\. Export it again"),
        (_empty_file, r"^in/b\.parquet: cannot be read as Parquet \(.+\)\. Export it again"),
        (_nothing, r"^in: this is a folder without data; expected a file, or a folder of Parquet files"),
        (_no_rows, r"^in: its 2 Parquet files have no rows"),
        (_other_files, r"^in: this is a folder with b\.csv; only Parquet files"),
        (_folder_and_column, r"^in/id=x/a\.parquet: has a column 'id', which the name of its folder gives too"),
        (_keys_in_one_alone, r"^in/z\.parquet: no column 'k', which in/k=x/a\.parquet has"),
        (_link, r"^in: b\.parquet in it is a link to other data, not data; expected the folder's own files"),
        (_pipe, r"^in: b\.parquet in it is a link to other data"),
    ],
)
def test_what_cannot_be_one_table_is_refused_by_the_name_of_the_part(tmp_path, spoil, words):
    spoil(tmp_path / "in")
    with pytest.raises(InputError, match=words):
        read_raw(Cores(path="in"), tmp_path, "cores", None)


def test_a_part_that_changes_while_the_others_are_read_is_noticed(tmp_path, monkeypatch):
    folder = _written(tmp_path / "in", a=_points(["a"]), b=_points(["b"]))
    read = parquet.read_schema

    def and_changed(file, **given):
        _points(["other"]).to_parquet(folder / "b.parquet")
        return read(file, **given)

    monkeypatch.setattr(parquet, "read_schema", and_changed)
    with pytest.raises(InputError, match="in: the file changed while it was being read"):
        read_raw(Cores(path="in"), tmp_path, "cores", None)


@pytest.mark.skipif(sys.platform != "linux", reason="names of files as Linux takes them")
def test_names_that_begin_alike_with_digits_and_letters_have_an_order(tmp_path):
    names = ["1", "a", "1a", "01", "a1", "10", "2", "é", "٣"]
    _written(tmp_path, **{name: pd.DataFrame({"id": [1]}) for name in names})
    in_order = [file.stem for file in parquet_parts(tmp_path, "x")]
    assert sorted(in_order) == sorted(names)
    assert [name for name in in_order if name in {"1", "2", "10"}] == ["1", "2", "10"]


def test_a_folder_whose_name_goes_on_with_digits_after_another_has_an_order(tmp_path):
    names = ["district_at_A__part-10", "district_at_A__part-9", "district_at_A1__part-1", "district_at_A10__part-1"]
    _written(tmp_path, **{name: pd.DataFrame({"id": [name]}) for name in reversed(names)})
    table = read_raw(Cores(path=str(tmp_path)), tmp_path, "cores", None)
    assert table.frame["district"].tolist() == ["A", "A", "A1", "A10"]
    assert table.frame["id"].tolist() == [names[1], names[0], *names[2:]]
