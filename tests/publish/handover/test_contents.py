"""What leaves the house, and that nothing else does."""

import json
import sqlite3
from contextlib import closing

import geopandas as gpd
import pandas as pd
import pytest

from pipeline.audit.registry import RULES
from pipeline.commands.verify import verify
from pipeline.contracts import HANDED_ALWAYS
from pipeline.errors import SettingsError
from pipeline.publish.words import words_of
from pipeline.run import run_programme
from tests.publish.handover.packs import pack_of
from tests.publish.handover.reading import everything_in
from tests.small_town import SECRET_STREET, SECRETS, write_town

# the table between cores and findings is what relates them
LAYERS = {"cores", "segments", "districts", "findings", "rules", "cores_findings", "layer_styles"}


def test_nothing_internal_is_in_any_file_not_even_in_the_maps_packed_data(run_folder):
    # the run's own outputs do hold it, so the search can find it
    own = "\n".join(everything_in(file) for file in run_folder.iterdir() if file.is_file())
    assert all(secret in own for secret in SECRETS)
    assert "SECRETBAGS" in everything_in(run_folder / "map.html")
    for file in [*(run_folder / "handover").iterdir(), run_folder / "handover.zip"]:
        found = everything_in(file)
        assert not [secret for secret in SECRETS if secret in found], file.name
    # and packed data is read at all
    assert "Quay Road" in everything_in(run_folder / "handover" / "map.html")


def test_a_finding_that_quotes_an_internal_column_is_reduced_to_its_rules_title(run_folder):
    findings = pd.read_csv(run_folder / "handover" / "findings.csv").set_index("rule")
    own = pd.read_csv(run_folder / "findings.csv").set_index("rule")
    assert sorted(findings.index) == sorted(own.index)
    assert "SECRETBAGS" in own.loc["value-unreadable", "message"]
    assert findings.loc["value-unreadable", "message"] == RULES["value-unreadable"].title
    assert pd.isna(findings.loc["value-unreadable", "evidence"])
    assert findings.loc["position-missing", "message"] == (
        "No coordinates are recorded, so the core cannot be shown on the map. "
        "The utility must measure the core's position on site."
    )
    assert own.loc["position-missing", "message"].endswith("Measure its position on site.")
    identity = json.loads((run_folder / "handover" / "handover.json").read_text())
    assert identity["findings_without_figures"] == ["position-unreadable", "value-unreadable"]


def test_the_columns_are_those_of_the_settings_in_their_order_as_they_were_understood(small_town, tmp_path):
    columns = [*HANDED_ALWAYS, "reinstated_at", "opened_on", "diameter_mm", "cost", "@road", "cover_m"]
    pack = pack_of(small_town[1], tmp_path, f"[handover]\ncolumns = {json.dumps(columns)}\n")
    cores = pd.read_csv(pack / "cores.csv")
    # the register keeps no cover
    assert cores.columns.tolist() == ["row", *columns[:-2], "'@road"]
    assert cores["cost"].eq("SECRETCOST").all()
    reinstated = "2026-08-03T14:05-04:00"
    assert cores["reinstated_at"].fillna("").tolist() == ["", reinstated, "", reinstated, "", "", ""]
    assert cores["opened_on"].eq("2026-08-01").all()
    assert cores["diameter_mm"].eq(450).all()
    layer = gpd.read_file(pack / "cores.gpkg", layer="cores")
    assert layer.columns.tolist() == ["row", *columns[:-1], "geometry"]
    assert set(gpd.list_layers(pack / "cores.gpkg")["name"]) == LAYERS
    assert verify(pack).identity["columns"] == ["row", *columns[:-1]]
    with closing(sqlite3.connect(pack / "cores.gpkg")) as database:
        titles = dict(database.execute("SELECT column_name, title FROM gpkg_data_columns WHERE table_name = 'cores'"))
    # a column of the contract is described here, though a run's own GeoPackage would have it as it was read
    assert titles["reinstated_at"] == "Reinstated"
    assert titles["cost"] is None
    page = (pack / "how-to-read.html").read_text("utf-8")
    assert "day on which the core was cut" in page
    assert "column of the register, as it was read" in page


def test_the_registers_street_stays_if_it_is_not_listed_and_so_does_a_surface(small_town, tmp_path):
    result = small_town[1]
    assert SECRET_STREET in everything_in(result.folder / "map.html")
    assert "asphalt" in everything_in(result.folder / "map.html")
    pack = pack_of(result, tmp_path, f"[handover]\ncolumns = {json.dumps([*HANDED_ALWAYS])}\n")
    for file in pack.iterdir():
        assert SECRET_STREET not in everything_in(file), file.name
        # nor does the page on how to read the pack name a surface
        assert "asphalt" not in everything_in(file), file.name
    page = (pack / "how-to-read.html").read_text()
    assert "likeliest" in page
    assert "runner_up_id" not in page


@pytest.mark.parametrize(
    ("handover", "words"),
    [
        (f"columns = {json.dumps([*HANDED_ALWAYS, 'Bags'])}", r"no column 'Bags'"),
        (f"columns = {json.dumps([*HANDED_ALWAYS, 'crews'])}", r"no column 'crews'\. Did you mean \"crew\"\?"),
        (f"columns = {json.dumps([*HANDED_ALWAYS, 'lat'])}", r"found 'lat' twice, expected each column once"),
        ("columns = 3", r"handover\.columns"),
        ('colums = ["core_id"]', r'Did you mean "columns"\?'),
    ],
)  # fmt: skip
def test_a_list_of_columns_that_cannot_be_is_refused_and_nothing_written(tmp_path, handover, words):
    with pytest.raises(SettingsError, match=words):
        run_programme(write_town(tmp_path, f"[handover]\n{handover}\n"), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_what_a_map_needs_is_handed_over_unasked_and_a_column_that_is_not_kept_reveals_nothing(small_town, tmp_path):
    pack = pack_of(small_town[1], tmp_path, '[handover]\ncolumns = ["opened_on", "reinstated_at"]\n')
    assert verify(pack).identity["columns"] == ["row", *HANDED_ALWAYS, "opened_on", "reinstated_at"]
    # its sentence may name a day of an interim reinstatement, which this register does not keep
    assert "interim_on" in RULES["open-too-long"].reveals
    findings = pd.read_csv(pack / "findings.csv").set_index("rule")
    assert findings.loc["open-too-long", "message"].str.contains("(limit 30 days)", regex=False).all()
    rules = pd.read_csv(pack / "rules.csv").set_index("rule")
    assert rules.columns.tolist() == ["title", "severity", "limits", "source", "urgency", "family", "set_by"]
    assert rules.loc["open-too-long", "limits"] == "max open 30 days"
    assert set(findings.index) <= set(rules.index)


def test_a_pack_says_who_set_a_limit_and_neither_our_default_nor_from_memory(tmp_path):
    own = '[thresholds]\ncode = "wales"\n[catalogue.rules.open-too-long]\nmax_open = "20 day"\n'
    path = write_town(tmp_path, own)
    pack = run_programme(path, tmp_path / "out").folder / "handover"
    sources = pd.read_csv(pack / "rules.csv").set_index("rule")["source"]
    assert sources["open-too-long"] == "set by Quay 2026"
    assert sources["cores-too-close"].startswith("tool default; nominal diameter: common practice, no source")
    set_by = pd.read_csv(pack / "rules.csv").set_index("rule")["set_by"]
    assert set_by["open-too-long"] == "max open 20 days: the utility"
    assert "nominal diameter 457.2 mm: common practice, no source" in set_by["cores-too-close"]
    assert "law or code of practice, New Roads and Street Works Act 1991 s.70(3)" in set_by["notice-late"]
    assert sources["notice-late"].startswith("New Roads and Street Works Act 1991 s.70(3)")
    for file in ("rules.csv", "how-to-read.html"):
        text = (pack / file).read_text("utf-8")
        assert "our default" not in text
        assert "from memory" not in text


def test_road_columns_that_a_map_does_not_need_stay(run_folder):
    pack = run_folder
    own = gpd.read_file(pack / "cores.gpkg", layer="segments")
    handed = gpd.read_file(pack / "handover" / "cores.gpkg", layer="segments")
    assert {"road_class", "class_name", "road_authority", "half_width_m"} <= set(own)
    counts = {f"cores_{name}" for name in ("flagged", "pending", "reinstated", "open", "hazard", "overdue")}
    assert set(handed) == {"segment_id", "street", "surface", "class_name", "road_authority", *counts, "geometry"}


def test_state_urgency_and_weight_are_handed_over_and_the_rules_have_their_urgency(run_folder):
    pack = run_folder / "handover"
    cores, own = (pd.read_csv(folder / "cores.csv", dtype=str) for folder in (pack, run_folder))
    for name in ("state", "urgency", "core_kg"):
        assert cores[name].fillna("").tolist() == own[name].fillna("").tolist()
    rules = pd.read_csv(pack / "rules.csv")
    assert rules.columns.tolist() == ["rule", "title", "severity", "limits", "source", "urgency", "family", "set_by"]
    assert set(rules["urgency"]) == {"hazard", "overdue", "quality", "record"}


def test_the_findings_of_a_pack_come_with_the_most_urgent_first_in_both_of_its_files(run_folder):
    pack = run_folder / "handover"
    found = pd.read_csv(pack / "findings.csv")
    places = found["urgency"].map({"hazard": 0, "overdue": 1, "quality": 2, "record": 3})
    assert places.tolist() == sorted(places)
    layer = gpd.read_file(pack / "cores.gpkg", layer="findings")
    assert layer[["row", "rule"]].to_numpy().tolist() == found[["row", "rule"]].to_numpy().tolist()


def test_the_plan_stays_in_the_house(tmp_path):
    """The run's own map has the day and the crew of a stop; no file of the pack has either."""
    crew = """
        [[crews]]
        name = "SECRETTEAM"
        """
    folder = run_programme(write_town(tmp_path, crew), tmp_path / "out").folder
    day = pd.read_csv(folder / "plan.csv")["day"].iloc[0]
    assert f"{words_of('en').day(day)}, SECRETTEAM" in everything_in(folder / "map.html")
    for file in [folder / "handover.zip", *(path for path in (folder / "handover").iterdir() if path.is_file())]:
        assert "SECRETTEAM" not in everything_in(file), file.name
