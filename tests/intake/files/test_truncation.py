"""Files that end before their header says they do."""

import geopandas as gpd
import pytest
import shapely

from pipeline.errors import InputError
from pipeline.intake.files.truncation import refuse_cut_short

_FRAME = gpd.GeoDataFrame(
    {"id": [str(number) for number in range(40)]}, geometry=[shapely.Point(n, n) for n in range(40)], crs=32617
)


def _cut(path, by):
    path.write_bytes(path.read_bytes()[:-by])


@pytest.mark.parametrize("by", [0, 1, 5000])
def test_a_geopackage_is_as_long_as_its_pages(tmp_path, by):
    path = tmp_path / "cores.gpkg"
    _FRAME.to_file(path)
    size = path.stat().st_size
    if by == 0:
        refuse_cut_short(path, "cores.gpkg")
        return
    _cut(path, by)
    with pytest.raises(InputError) as error:
        refuse_cut_short(path, "cores.gpkg")
    assert str(error.value) == (
        f"cores.gpkg: the file is cut short ({size - by} bytes of {size}). Copy or export it again."
    )


@pytest.mark.parametrize("end", ["shp", "shx", "dbf"])
def test_each_part_of_a_shapefile_is_as_long_as_its_own_header_says(tmp_path, end):
    path = tmp_path / "cores.shp"
    _FRAME.to_file(path)
    refuse_cut_short(path, "cores.shp")
    # a .dbf may end in one byte that marks the end
    _cut(path.with_suffix(f".{end}"), 3)
    with pytest.raises(
        InputError, match=rf"^cores\.shp: {'the' if end == 'shp' else f'its .{end}: the'} file is cut short"
    ):
        refuse_cut_short(path, "cores.shp")


def test_the_parts_of_a_shapefile_are_found_in_capitals_and_other_shapefiles_left_alone(tmp_path):
    path = tmp_path / "cores.shp"
    _FRAME.to_file(path)
    _FRAME.to_file(tmp_path / "cores.old.shp")
    _cut(tmp_path / "cores.old.dbf", 30)
    refuse_cut_short(path, "cores.shp")
    path.with_suffix(".dbf").rename(tmp_path / "cores.DBF")
    _cut(tmp_path / "cores.DBF", 30)
    with pytest.raises(InputError, match=r"its \.DBF: the file is cut short"):
        refuse_cut_short(path, "cores.shp")


@pytest.mark.parametrize("stem", ["cores**", "cores[1]", "co*res?"])
def test_the_parts_of_a_shapefile_are_found_whatever_its_name(tmp_path, stem):
    path = tmp_path / f"{stem}.shp"
    _FRAME.to_file(path)
    refuse_cut_short(path, path.name)
    _cut(tmp_path / f"{stem}.dbf", 30)
    with pytest.raises(InputError, match=r"its \.dbf: the file is cut short"):
        refuse_cut_short(path, path.name)


def test_pages_of_64_kib_are_written_as_one(tmp_path):
    """The header of an SQLite file of two pages: page size 1 means 65,536, change counters equal."""
    head = bytearray(100)
    head[:16] = b"SQLite format 3\x00"
    head[16:18] = (1).to_bytes(2, "big")
    head[28:32] = (2).to_bytes(4, "big")
    path = tmp_path / "x.gpkg"
    path.write_bytes(bytes(head))
    with pytest.raises(InputError, match="100 bytes of 131072"):
        refuse_cut_short(path, "x.gpkg")
    # a page count from before the last change says nothing
    head[24:28] = (7).to_bytes(4, "big")
    path.write_bytes(bytes(head))
    refuse_cut_short(path, "x.gpkg")


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\x00", b"id,x\n1,2\n"])
def test_a_file_whose_header_states_no_length_passes(tmp_path, content):
    (tmp_path / "x.gpkg").write_bytes(content)
    refuse_cut_short(tmp_path / "x.gpkg", "x.gpkg")


def test_a_folder_or_a_file_that_is_not_there_passes(tmp_path):
    refuse_cut_short(tmp_path, "x.gdb")
    refuse_cut_short(tmp_path / "nothing.gpkg", "nothing.gpkg")
