"""Cells of a pack's tables beside those of its map."""

import numpy as np
import pandas as pd

from pipeline.publish.handover.compared import compare_map
from pipeline.publish.handover.drawn import PackContent
from pipeline.publish.map.packing import MOST
from pipeline.readback.pack_map import MapColumns


def _problems(in_table, in_map, digits):
    cores = pd.DataFrame({"row": [1], "core_id": ["HV-1"], "lon": [np.nan], "lat": [np.nan], "diameter_mm": [in_table]})
    findings = pd.DataFrame({"row": pd.Series(dtype="int64")})
    tables = {"cores.csv": cores.assign(copy_of=pd.Series([None], dtype="str")), "findings.csv": findings}
    drawn = pd.DataFrame({"row": [1], "x": [-1], "y": [-1], "diameter_mm": [in_map]})
    held = MapColumns(drawn, {"diameter_mm": digits}, [], findings, {}, {})
    return compare_map(PackContent({"language": "en"}, tables, {}), held)


def test_a_number_that_a_map_has_no_room_for_is_missing_there_and_any_other_is_not():
    assert _problems(MOST / 10, np.nan, 1) == []
    assert _problems(MOST / 10, 450.0, 1) != []
    assert _problems(450.0, 450.04, 1) == []
    # a map cannot claim decimal places for which no number has room
    for digits in (1, 30):
        assert _problems(450.0, np.nan, digits) == [
            "cores.csv: diameter_mm of core HV-1 is 450.0, but empty in map.html"
        ]
