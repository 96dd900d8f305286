"""The GeoPackage: its layers, their descriptions, and text that stays text."""

import xml.etree.ElementTree as ET

import geopandas as gpd
import pandas as pd
import pyogrio

from pipeline.contracts import CORE_COLUMNS
from tests.publish.geopackage.sample import NASTY, UTM, ask, cores_table, qml, sld, write


def test_the_findings_are_written_with_the_most_urgent_first(tmp_path):
    found = pd.DataFrame(
        {"row": [1, 2, 3], "urgency": ["record", "hazard", "overdue"], "severity": ["fail", "note", "fail"]}
    )
    path = write(tmp_path / "cores.gpkg", findings=found)
    assert ask(path, 'SELECT "row" FROM findings ORDER BY fid') == [(2,), (3,), (1,)]


def test_it_has_its_layers_and_the_cores_without_a_place(tmp_path):
    path = write(tmp_path / "a.gpkg", cores_table({"fid": ["9"] * 6, "geom": ["x"] * 6}))
    # those on top first
    assert [name for name, _ in pyogrio.list_layers(path)][:3] == ["cores", "segments", "districts"]
    assert {name for name, _ in pyogrio.list_layers(path)} >= {"findings", "orders"}
    cores = gpd.read_file(path, layer="cores")
    assert cores.crs == UTM
    assert cores.geometry.isna().tolist() == [False] * 5 + [True]
    assert cores["core_id"].tolist() == list("ABCDEF")


def test_the_same_inputs_give_the_same_bytes_wherever_it_is_written(tmp_path):
    (tmp_path / "elsewhere").mkdir()
    one, other = write(tmp_path / "a.gpkg"), write(tmp_path / "elsewhere" / "b.gpkg")
    assert one.read_bytes() == other.read_bytes()


def test_every_column_of_the_contract_is_described_and_a_registers_own_keeps_its_name(tmp_path):
    path = write(tmp_path / "a.gpkg", cores_table({"Status": ["x"] * 6, "Dia. (in)": ["18"] * 6}))
    rows = ask(path, "SELECT column_name, title, description FROM gpkg_data_columns WHERE table_name = 'cores'")
    described = {name: (title, meaning) for name, title, meaning in rows}
    assert set(described) == {*CORE_COLUMNS, "register_Status", "Dia. (in)"}
    assert all(title and meaning for name, (title, meaning) in described.items() if name in CORE_COLUMNS)
    assert described["diameter_mm"] == (
        "Diameter (mm)",
        "Diameter of the cut hole or of the core, as the programme states",
    )
    assert described["chainage_m"] == ("Chainage (m)", "Distance along the segment from its start")
    assert described["Dia. (in)"][0] is None


def test_hostile_text_stays_text(tmp_path):
    path = write(tmp_path / "a.gpkg", cores_table({NASTY: [NASTY] * 6}), districts=(NASTY, "B"), title=NASTY)
    cores = gpd.read_file(path, layer="cores")
    assert cores[NASTY].tolist() == [NASTY] * 6
    assert gpd.read_file(path, layer="districts")["district"].tolist() == [NASTY, "B"]
    ((description,),) = ask(path, "SELECT description FROM gpkg_contents WHERE table_name = 'cores'")
    assert NASTY in description
    ((told,),) = ask(path, "SELECT description FROM gpkg_data_columns WHERE column_name = ?", NASTY)
    assert told == "The register's own column, as it was read"
    for layer in ("cores", "segments", "districts"):
        # none of it is in a style at all
        assert "img" not in ET.tostring(qml(path, layer), "unicode") + ET.tostring(sld(path, layer), "unicode")


def test_a_layer_says_what_it_is_and_which_run_it_is_of(tmp_path):
    path = write(tmp_path / "a.gpkg", title="Harbour Vale 2026", as_of=pd.Timestamp("2026-09-30").date())
    told = dict(ask(path, "SELECT identifier, description FROM gpkg_contents"))
    assert told["Road segments"] == (
        "Road segments: centrelines, with the number of their cores by status. Harbour Vale 2026. As of 2026-09-30."
    )
    assert {"Cores", "Districts", "Findings", "Orders"} <= set(told)
