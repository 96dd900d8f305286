"""What a pack holds, from what was just written into it."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.publish.handover.content_written import content_of

FACTS = {"crs": "EPSG:32617"}


def segments(name="Dory Lane", *ends):
    line = shapely.LineString(ends or [(0, 0), (1, 0)])
    return gpd.GeoDataFrame({"segment_id": ["S-1"], "street": pd.Series([name], dtype="str")}, geometry=[line])


def test_layers_with_a_geometry_are_taken_as_they_were_written_but_for_the_cores():
    written = {"cores": segments(), "segments": segments(), "findings": pd.DataFrame({"row": [1]})}
    content = content_of(written, {"cores.csv": written["findings"]}, FACTS)
    assert {*content.layers} == {"segments"}
    assert content.layers["segments"] is written["segments"]
    assert content.facts is FACTS
    assert {*content.tables} == {"cores.csv"}


@pytest.mark.parametrize("kind", ["str", "object", "category"])
def test_a_text_that_the_file_would_cut_is_read_back_instead(kind):
    cut = segments("Dory\0Lane").astype({"street": kind})
    assert content_of({"segments": cut}, {}, FACTS) is None
    assert content_of({"segments": segments().astype({"street": kind})}, {}, FACTS) is not None


def test_a_layer_with_heights_is_read_back_instead():
    assert content_of({"segments": segments("Quay", (0, 0, 1), (1, 0, 1))}, {}, FACTS) is None
