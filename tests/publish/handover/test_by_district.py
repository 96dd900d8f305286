"""The GeoPackages of districts in a pack: with the columns that are handed over, and only where they are asked for."""

import datetime as dt
import json

import geopandas as gpd
import pandas as pd

from pipeline.commands.verify import verify
from pipeline.run import run_programme
from tests.publish.handover.packs import pack_of
from tests.small_town import SECRET_STREET, SECRETS, write_town

_BY_DISTRICT = '[publish]\ngeopackage = "by district"\n'


def test_what_is_kept_back_is_in_none_of_them(small_town, tmp_path):
    _, run = small_town
    pack = pack_of(run, tmp_path, f'{_BY_DISTRICT}[handover]\ncolumns = ["depth_mm"]\n')
    for name in ("cores-quayside.gpkg", "cores-no-district.gpkg"):
        columns = set(gpd.read_file(pack / name, layer="cores"))
        assert columns == set(gpd.read_file(pack / "cores.gpkg", layer="cores"))
        assert not columns & {"state", "urgency", "crew"}
        counts = {column for column in gpd.read_file(pack / name, layer="segments") if column.startswith("cores_")}
        # what they are made from, state and urgency, is kept back
        assert counts == {"cores_flagged", "cores_pending", "cores_reinstated"}
        content = (pack / name).read_bytes()
        assert not [secret for secret in (*SECRETS, SECRET_STREET) if secret.encode() in content]
    assert "cores-quayside.gpkg" in {file.name for file in verify(pack).files}


def test_each_change_is_in_one_of_them(tmp_path):
    """A core is removed after the first run: it is where it was."""
    programme = write_town(tmp_path, _BY_DISTRICT)
    run_programme(programme, tmp_path / "out", as_of=dt.date(2026, 8, 2))
    register = pd.read_csv(tmp_path / "cores.csv", dtype="str", keep_default_na=False)
    register[register["id"].ne("HV-4")].to_csv(tmp_path / "cores.csv", index=False)
    pack = run_programme(programme, tmp_path / "out").folder / "handover"
    changes = pd.read_csv(pack / "changes.csv", keep_default_na=False)
    assert "HV-4" in set(changes.loc[changes["row_after"].eq(""), "core_id"])
    held = {name: gpd.read_file(pack / f"cores-{name}.gpkg", layer="changes") for name in ("quayside", "no-district")}
    assert "HV-4" in set(held["quayside"]["core_id"])
    keys = ["core_id", "change"]
    together = pd.concat([one[keys] for one in held.values()]).sort_values(keys).to_numpy().tolist()
    assert together == changes[keys].sort_values(keys).to_numpy().tolist()
    assert len(held["no-district"])
    assert verify(pack)


def test_a_pack_without_them_says_nothing_of_them(run_folder):
    facts = json.loads((run_folder / "handover" / "handover.json").read_text("utf-8"))
    assert "geopackage" not in facts
    page = (run_folder / "handover" / "how-to-read.html").read_text("utf-8")
    assert "districts.csv" not in page
    assert "cores-" not in page
