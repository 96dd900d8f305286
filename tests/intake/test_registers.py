"""Several registers as one: where each row is from, and what each register keeps."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer
from shapely import Point

from pipeline.errors import InputError
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register import read_register
from pipeline.intake.registers import merged, paths_of, read_registers
from pipeline.programme.input_files import Cores
from pipeline.programme.settings import Settings

_DEGREES = CRS.from_epsg(4326)
_ROADS = (-82.25, 44.75, -82.15, 44.85)
_COLUMNS = {"core_id": "id", "diameter": "dia", "depth": "depth"}
_KERF_MM = 9.0


def _write(folder, name, lines):
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _read(folder, *sections):
    settings = Settings.model_validate(
        {"programme": {"name": "Town"}, "roads": {"path": "roads.gpkg"}, "cores": list(sections)}
    )
    return read_registers(settings, folder, _ROADS, _DEGREES, _KERF_MM, lambda _: None)


@pytest.fixture
def two(tmp_path):
    """North writes degrees and inches; South eastings in US survey feet, millimetres, and keeps a crew."""
    _write(tmp_path, "north.csv", ["id,lon,lat,dia,depth", "N1,-82.20,44.80,18 in,8 in", "N2,-82.21,44.81,18 in,8 in"])
    # ESRI:102690 is the state plane of Michigan's south in US survey feet
    feet = Transformer.from_crs(4326, "ESRI:102690", always_xy=True)
    east, north = feet.transform(-82.20, 44.80)
    _write(tmp_path, "south.csv", ["id;e;n;dia;depth;crew", f"S1;{east:.2f};{north:.2f};450;200;Gang 4"])
    south = {
        "name": "South", "path": "south.csv", "columns": _COLUMNS, "x": "e", "y": "n", "crs": "ESRI:102690",
        "units": {"diameter": "mm", "depth": "mm"},
    }  # fmt: skip
    return tmp_path, {"name": "North", "path": "north.csv", "columns": _COLUMNS}, south


def test_each_register_is_read_by_settings_of_its_own(two):
    folder, north, south = two
    cores = _read(folder, north, south).frame
    assert cores["core_id"].tolist() == ["N1", "N2", "S1"]
    assert cores["diameter_mm"].tolist() == pytest.approx([457.2, 457.2, 450])
    # a hundredth of a foot is 3 mm, which is 0.00000004 of a degree
    assert cores["lon"].to_numpy() == pytest.approx([-82.20, -82.21, -82.20], abs=1e-7)
    assert cores["lat"].to_numpy() == pytest.approx([44.80, 44.81, 44.80], abs=1e-7)


def test_a_row_tells_its_register_its_file_and_where_it_is_in_that_file(two):
    folder, north, south = two
    cores = _read(folder, north, south).frame
    assert cores["row"].tolist() == [1, 2, 3]
    assert cores["register"].tolist() == ["North", "North", "South"]
    assert cores["register_file"].tolist() == ["north.csv", "north.csv", "south.csv"]


def test_own_columns_stand_side_by_side_and_what_each_register_keeps_is_known(two):
    folder, north, south = two
    registers = _read(folder, north, south)
    assert registers.as_read.columns.tolist() == ["id", "lon", "lat", "dia", "depth", "e", "n", "crew"]
    assert registers.as_read["crew"].fillna("").tolist() == ["", "", "Gang 4"]
    assert registers.kept["crew"] == {"South"}
    assert registers.kept["depth_mm"] == {"North", "South"}
    assert registers.present == {"core_id", "diameter_mm", "depth_mm", "crew"}
    assert registers.units["South"] == {"diameter_mm": "mm", "depth_mm": "mm"}


def test_where_registers_differ_in_what_a_diameter_is_all_become_the_hole(two):
    folder, north, south = two
    registers = _read(folder, north, south | {"diameter_is": "core"})
    # 450 mm and two kerfs of 9 mm
    assert registers.frame["diameter_mm"].tolist() == pytest.approx([457.2, 457.2, 468])
    assert registers.notices == [
        "south.csv: two kerfs of 9 mm added to each diameter, because other registers give that of the hole."
    ]
    alone = _read(folder, south | {"diameter_is": "core"})
    assert (alone.frame["diameter_mm"].tolist(), alone.notices) == ([450], [])


def test_a_pattern_reads_the_files_of_a_folder_by_name_as_one_register(tmp_path):
    for month in ("02", "01"):
        _write(tmp_path, f"sheets/{month}.csv", ["id,lon,lat,dia,depth", f"M{month},-82.2,44.8,18 in,8 in"])
    _write(tmp_path, "sheets/~$01.csv", ["a lock file of a spreadsheet program"])
    registers = _read(tmp_path, {"path": "sheets/*.csv", "columns": _COLUMNS})
    assert registers.frame["core_id"].tolist() == ["M01", "M02"]
    assert registers.frame["register"].tolist() == ["sheets", "sheets"]
    assert registers.frame["register_file"].tolist() == ["sheets/01.csv", "sheets/02.csv"]
    with pytest.raises(InputError, match=r"^2025/\*\.csv: no file matches \(looked in .*\)\. Correct cores\.path\.$"):
        _read(tmp_path, {"path": "2025/*.csv"})


def _book(folder, name, sheets):
    with xlsxwriter.Workbook(str(folder / name)) as book:
        for title, rows in sheets.items():
            sheet = book.add_worksheet(title)
            for number, row in enumerate(rows):
                sheet.write_row(number, 0, row)


_HEADER = ["id", "lon", "lat", "dia", "depth"]
_SIZES = [-82.2, 44.8, "18 in", "8 in"]


@pytest.mark.parametrize(("layer", "ids"), [("*", ["J1", "F1", "F2"]), (["Feb", "Jan"], ["F1", "F2", "J1"])])
def test_several_sheets_are_one_register_and_each_row_names_its_sheet(tmp_path, layer, ids):
    jan, feb = [["January"], _HEADER, ["J1", *_SIZES]], [_HEADER, ["F1", *_SIZES], [], ["F2", *_SIZES]]
    _book(tmp_path, "book.xlsx", {"Jan": jan, "Feb": feb})
    cores = _read(tmp_path, {"path": "book.xlsx", "columns": _COLUMNS, "layer": layer}).frame.set_index("core_id")
    assert cores.index.tolist() == ids
    assert cores.loc[["J1", "F1", "F2"], "register_row"].tolist() == [3, 2, 4]
    files = ["book.xlsx, sheet Jan", "book.xlsx, sheet Feb", "book.xlsx, sheet Feb"]
    assert cores.loc[["J1", "F1", "F2"], "register_file"].tolist() == files
    assert set(cores["register"]) == {"book"}


def test_the_sheets_of_every_workbook_that_a_path_matches_are_read(tmp_path):
    for name in ("north", "south"):
        _book(tmp_path, f"{name}.xlsx", {title: [_HEADER, [f"{name} {title}", *_SIZES]] for title in ("Jan", "Feb")})
    registers = _read(tmp_path, {"path": "*.xlsx", "columns": _COLUMNS, "layer": ["Jan", "Feb"], "name": "Town"})
    assert registers.frame["core_id"].tolist() == ["north Jan", "north Feb", "south Jan", "south Feb"]


def test_a_quiet_month_adds_no_core_and_is_told_of(tmp_path):
    _book(tmp_path, "book.xlsx", {"Jan": [_HEADER, ["J1", *_SIZES]], "Feb": [_HEADER]})
    read = _read(tmp_path, {"path": "book.xlsx", "columns": _COLUMNS, "layer": "*"})
    assert read.frame["core_id"].tolist() == ["J1"]
    assert read.notices == ["book.xlsx, sheet Feb: a header and no rows, so it adds no core to book."]
    _write(tmp_path, "m/1.csv", [",".join(_HEADER)])
    with pytest.raises(InputError, match=r"m/1\.csv: a header and no rows; expected one row per core"):
        _read(tmp_path, {"path": "m/*.csv", "columns": _COLUMNS})
    _write(tmp_path, "m/2.csv", [",".join(_HEADER)])
    with pytest.raises(
        InputError, match=r"m/\*\.csv: none of 2 files or sheets holds a core, the first being m/1\.csv"
    ):
        _read(tmp_path, {"path": "m/*.csv", "columns": _COLUMNS})


def test_a_column_that_only_some_parts_have_is_blank_in_the_others_and_told_of(tmp_path):
    sheets = {"North": [_HEADER, ["N1", *_SIZES]], "South": [[*_HEADER, "Gang"], ["S1", *_SIZES, "Gang 4"]]}
    _book(tmp_path, "book.xlsx", sheets)
    section = {"path": "book.xlsx", "columns": _COLUMNS | {"crew": "gang"}}
    read = _read(tmp_path, section | {"layer": "*"})
    assert read.frame["crew"].fillna("").tolist() == ["", "Gang 4"]
    assert read.notices == ["book.xlsx, sheet North: no column 'gang', which other parts of the register have."]
    with pytest.raises(InputError, match="sheet North: no column 'gang' for `crew`"):
        _read(tmp_path, section | {"layer": "North"})


def test_a_part_of_which_the_condition_selects_nothing_is_told_of(tmp_path):
    for month in ("1", "2"):
        _write(tmp_path, f"m/{month}.csv", [",".join(_HEADER), f"{month},-82.2,44.8,18 in,8 in"])
    read = _read(tmp_path, {"path": "m/*.csv", "columns": _COLUMNS, "where": "id = 2"})
    assert read.frame["core_id"].tolist() == ["2"]
    assert read.notices[0] == ("m/1.csv: cores.where = 'id = 2' selects none of its 1 row, so it adds no core to m.")
    with pytest.raises(InputError, match="none of 2 files or sheets holds a core"):
        _read(tmp_path, {"path": "m/*.csv", "columns": _COLUMNS, "where": "id = 3"})


def test_several_layers_of_a_map_file_are_one_register_and_each_row_names_its_layer(tmp_path):
    for layer in ("jan", "feb"):
        cores = {"id": [layer], "dia": ["18 in"], "depth": ["8 in"], "geometry": [Point(-82.2, 44.8)]}
        gpd.GeoDataFrame(cores, crs=4326).to_file(tmp_path / "a.gpkg", layer=layer)
    cores = _read(tmp_path, {"path": "a.gpkg", "columns": _COLUMNS, "layer": ["jan", "feb"]}).frame
    assert cores[["core_id", "register_file"]].to_numpy().tolist() == [
        ["jan", "a.gpkg, layer jan"],
        ["feb", "a.gpkg, layer feb"],
    ]


def test_a_sheet_that_two_registers_read_is_refused_and_two_sheets_of_a_workbook_are_not(tmp_path):
    _book(tmp_path, "book.xlsx", {title: [_HEADER, [title, *_SIZES]] for title in ("Jan", "Feb")})
    one, other = ({"name": name, "path": "book.xlsx", "columns": _COLUMNS} for name in ("North", "South"))
    assert len(_read(tmp_path, one | {"layer": "Jan"}, other | {"layer": "Feb"}).frame) == 2
    with pytest.raises(InputError, match=r"sheet Feb: the register 'South' reads the same rows as 'North'"):
        _read(tmp_path, one | {"layer": "*"}, other | {"layer": "Feb"})


def test_a_file_without_rows_whose_header_lacks_a_name_is_no_quiet_month(tmp_path):
    _write(tmp_path, "m/1.csv", [",".join(_HEADER), "A1,-82.2,44.8,18 in,8 in"])
    _write(tmp_path, "m/2.csv", ["id,lon,lat,width,depth"])
    with pytest.raises(InputError, match=r"m/2\.csv: a header and no rows"):
        _read(tmp_path, {"path": "m/*.csv", "columns": _COLUMNS})


def test_a_file_whose_name_holds_the_marks_of_a_pattern_is_itself(tmp_path):
    _write(tmp_path, "cores [final].csv", ["id"])
    assert paths_of(Cores(path="cores [final].csv"), tmp_path) == ["cores [final].csv"]
    assert paths_of(Cores(path=f"{tmp_path}/cores*"), tmp_path / "elsewhere") == [f"{tmp_path}/cores [final].csv"]


def test_a_month_whose_name_is_not_text_is_refused(tmp_path):
    for name in ("july.csv", "ao\udcfbt.csv"):
        (tmp_path / name).touch()
    with pytest.raises(InputError, match=r"^ao\\xfbt\.csv: found a name that is not UTF-8 text.* Rename the file\."):
        paths_of(Cores(path="*.csv"), tmp_path)


@pytest.mark.parametrize(("further", "is_refused"), [(1895, False), (1896, True)])
def test_a_register_with_more_columns_than_the_outputs_hold_is_refused(tmp_path, further, is_refused):
    """Five columns and further ones: 1,900 are kept."""
    names, cells = (",".join(f"{sign}{number}" for number in range(further)) for sign in ("c", "x"))
    _write(tmp_path, "a.csv", [f"id,lon,lat,dia,depth,{names}", f"N1,-82.20,44.80,18 in,8 in,{cells}"])
    section = {"path": "a.csv", "columns": _COLUMNS}
    if is_refused:
        with pytest.raises(InputError, match=r"a\.csv: 1,901 columns, expected at most 1,900\. Delete those"):
            _read(tmp_path, section)
    else:
        assert len(_read(tmp_path, section).as_read.columns) == 1900


def test_equal_rows_of_one_register_are_copies_and_those_of_two_are_not(tmp_path):
    row = "1,-82.2,44.8,18 in,8 in"
    for name in ("a", "b"):
        _write(tmp_path, f"{name}.csv", ["id,lon,lat,dia,depth", row, row.replace("1,", "2,", 1), row])
    frame = _read(tmp_path, *({"path": f"{name}.csv", "columns": _COLUMNS} for name in ("a", "b"))).frame
    assert frame["same_row"].tolist() == [0, 1, 0, 2, 3, 2]
    assert frame["is_copy"].tolist() == [False, False, True] * 2


def _register(name, ids):
    cells = {"id": ids, "lon": "-82.2", "lat": "44.8", "dia": "18 in", "depth": "6 in"}
    frame = pd.DataFrame(cells, index=range(len(ids)), dtype="str")
    table = RawTable(frame, np.arange(1, len(ids) + 1), len(ids) + 1, f"{name}.csv")
    return read_register(table, Cores(name=name, path=f"{name}.csv", columns=_COLUMNS), "UTC", _ROADS, _DEGREES)


@settings(max_examples=10, deadline=None)
@given(sizes=st.lists(st.integers(1, 5), min_size=1, max_size=4))
def test_rows_run_on_and_none_is_lost(sizes):
    registers = merged(
        [_register(f"R{number}", [f"{number}-{core}" for core in range(size)]) for number, size in enumerate(sizes)]
    )
    assert len(registers.frame) == len(registers.as_read) == sum(sizes)
    assert registers.frame["row"].is_monotonic_increasing
    assert registers.frame["row"].is_unique
    assert registers.rows_in_file == sum(sizes) + len(sizes)
    assert registers.frame["register"].value_counts().to_dict() == {f"R{n}": size for n, size in enumerate(sizes)}


def _both(**settings):
    return {"crs": "EPSG:4326", "columns": _COLUMNS, "x": "lon", "y": "lat", **settings}


def test_the_same_rows_in_two_registers_are_refused(tmp_path):
    _write(tmp_path, "a.csv", ["id,lon,lat,dia,depth", "N1,-82.20,44.80,18 in,8 in", "N2,-82.21,44.81,18 in,8 in"])
    with pytest.raises(InputError, match=r"^\./a\.csv: the register 'S' reads the same rows as 'N' \(a\.csv\)"):
        _read(tmp_path, _both(name="N", path="a.csv"), _both(name="S", path="./a.csv"))
    # each has its own rows of the file
    parts = [_both(name=name, path="a.csv", where=f"id = '{name}'") for name in ("N1", "N2")]
    assert _read(tmp_path, *parts).frame["core_id"].tolist() == ["N1", "N2"]


def test_a_month_whose_link_is_broken_is_not_passed_over(tmp_path):
    _write(tmp_path, "07.csv", ["id,lon,lat,dia,depth", "N1,-82.20,44.80,18 in,8 in"])
    (tmp_path / "08.csv").symlink_to("nowhere.csv")
    with pytest.raises(InputError, match=r"08\.csv: no such file"):
        _read(tmp_path, _both(name="N", path="*.csv"))


@pytest.mark.parametrize("output", ["out/2026-09-30/cores.csv", "out/2026-09-30/handover/cores.csv"])
def test_a_pattern_that_matches_an_output_is_refused(tmp_path, output):
    (tmp_path / output).parent.mkdir(parents=True)
    (tmp_path / output).write_text("core_id\n", "utf-8")
    (tmp_path / "out/2026-09-30/run.json").write_text("{}", "utf-8")
    with pytest.raises(InputError, match="which is an output of an audit"):
        paths_of(Cores(path="**/*.csv"), tmp_path)
