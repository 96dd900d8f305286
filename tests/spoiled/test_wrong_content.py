"""A file that holds something other than its name promises is refused."""

import numpy as np
import pytest

SPOILED = {
    "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20,
    "an archive": b"PK\x03\x04" + bytes(range(256)) * 20,
    "a database": b"SQLite format 3\x00" + bytes(range(256)) * 20,
    "noise": np.random.default_rng(7).bytes(5000),
    "nulls": bytes(5000),
    "nothing": b"",
    "blank lines": b"\n\r\n  \n",
}


@pytest.mark.parametrize("kind", SPOILED)
@pytest.mark.parametrize("end", ["csv", "gpkg", "xlsx", "parquet", "zip", "geojson", "shp", "fgb"])
def test_a_register_with_other_content_is_refused(town, kind, end):
    path = town.use("cores", f"register.{end}", 'crs = "EPSG:32617"')
    path.write_bytes(SPOILED[kind])
    town.refuses(3, f"register.{end}")


@pytest.mark.parametrize("section", ["roads", "districts"])
@pytest.mark.parametrize("kind", ["a picture", "nothing"])
def test_a_layer_with_other_content_is_refused(town, section, kind):
    town.use(section, "layer.gpkg").write_bytes(SPOILED[kind])
    town.refuses(3, "layer.gpkg")
