"""Every output counts a core once, however often and in however many registers its row is written.

The town has seven cores. The other register has three rows more, which repeat two of them: the numbers are the same.
"""

import json
import re
import sqlite3
from contextlib import closing

import pandas as pd
import pytest

from pipeline.commands.sample import draw_sample
from pipeline.commands.verify import verify
from pipeline.history import trend
from pipeline.programme.sampling_schemes import Isolated
from pipeline.publish.report.first_page import first_page
from pipeline.publish.report.materials import materials
from pipeline.publish.words import words_of
from pipeline.run import run_programme
from tests.small_town import write_town


def _run(folder, repeated):
    """Audit the town with the data rows at these places written again at the end of its register."""
    folder.mkdir()
    programme = write_town(folder)
    lines = (folder / "cores.csv").read_text("utf-8").splitlines()
    (folder / "cores.csv").write_text("\n".join([*lines, *(lines[place] for place in repeated)]) + "\n", "utf-8")
    return run_programme(programme, folder / "out")


@pytest.fixture(scope="module")
def runs(small_town, tmp_path_factory):
    """The run of seven rows, and that of ten rows: the first core, which is open, twice; the second three times."""
    return small_town[1], _run(tmp_path_factory.mktemp("towns") / "again", [1, 2, 2])


def _table(result, name):
    table = pd.read_csv(result.folder / name, dtype=str, keep_default_na=False)
    named = next((name for name in ("rule", "measure") if name in table), None)
    return table if named is None else table[table[named].ne("row-duplicated")]


def test_the_account_shows_the_rows_that_are_no_cores_of_their_own(runs):
    once, again = (result.account for result in runs)
    assert (again["rows_read"], again["copies"], again["cores"]) == (10, 3, 7)
    rows = ("rows_in_file", "rows_read", "copies")
    assert {name: n for name, n in again.items() if name not in rows} == {
        name: n for name, n in once.items() if name not in rows
    }


@pytest.mark.parametrize(
    "name", ["rules", "thresholds", "evidence", "rates", "completeness", "orders", "purchases", "loads"]
)
def test_a_table_of_counts_is_the_same(runs, name):
    once, again = (_table(result, f"{name}.csv").reset_index(drop=True) for result in runs)
    assert again.equals(once)
    assert len(once)


def test_the_tables_have_each_row_and_say_which_core_it_repeats(runs):
    table = _table(runs[1], "cores.csv")
    assert table["copy_of"].tolist() == [""] * 7 + ["1", "2", "2"]
    # the heading is the first line of the file
    assert table["register_row"].astype(int).tolist() == [row + 1 for row in table["row"].astype(int)]
    assert set(table["register"]) == {"cores"}
    findings = _table(runs[1], "findings.csv")
    of_copies, of_first = (findings.loc[findings["row"].eq(row), "rule"].tolist() for row in ("8", "1"))
    assert of_copies == of_first


def test_findings_are_counted_once_in_the_record_and_listed_for_every_row(runs):
    once, again = (json.loads((result.folder / "run.json").read_text("utf-8")) for result in runs)
    # two cores have the finding that their row is duplicated
    assert again["findings_by_severity"] == once["findings_by_severity"] | {
        "check": once["findings_by_severity"]["check"] + 2
    }
    assert again["rows_of_findings"] == len(runs[1].audit.findings)
    assert again["orders"] == once["orders"]
    columns = ["cores", "flagged", "pending", "reinstated", "unplaced", "fail", "note", "bags_needed"]
    lines = trend([once | {"as_of": "2026-09-29"}, again])[columns]
    assert lines.loc[0].tolist() == lines.loc[1].tolist()


def test_segments_and_districts_of_the_geopackage_count_cores(runs):
    for layer in ("segments", "districts"):
        counts = []
        for result in runs:
            for file in (result.folder / "cores.gpkg", result.folder / "handover" / "cores.gpkg"):
                with closing(sqlite3.connect(file)) as package:
                    names = f"SELECT cores_flagged, cores_pending, cores_reinstated FROM {layer}"
                    counts.append(package.execute(names).fetchall())
        assert counts == [counts[0]] * 4, layer


def test_map_report_pack_and_sample_count_cores(runs, tmp_path):
    english = words_of("en")
    pages = [first_page(result, english) for result in runs]
    for name in ("statuses", "states", "adding_up", "flagged_by_need"):
        assert pages[0][name] == pages[1][name], name
    assert [group["n"] for group in pages[0]["groups"]] == [group["n"] for group in pages[1]["groups"]]
    needs = [materials(result, english) for result in runs]
    for name in ("grout_needed", "ordered_cores", "not_ordered_total"):
        assert needs[0][name] == needs[1][name], name
    data = re.compile(r'<script type="application/json" id="page-data">(.*?)</script>', re.DOTALL)
    for file in ("map.html", "handover/map.html"):
        found = [json.loads(data.search((result.folder / file).read_text("utf-8"))[1]) for result in runs]
        assert found[1]["cores"] == 7
        assert found[0]["districts"] == found[1]["districts"]
        assert found[0]["unplaced"] == found[1]["unplaced"]
    once, again = (verify(result.folder / "handover.zip").identity for result in runs)
    assert (again["rows"], once["rows"]) == (10, 7)
    for name in ("cores", "flagged", "pending", "reinstated", "unplaced"):
        assert again[name] == once[name], name
    drawn = [
        draw_sample(result.folder, Isolated(limit=0.5, risk=0.1, accept=0), "all", 1, tmp_path / f"{place}").record
        for place, result in enumerate(runs)
    ]
    assert drawn[0]["cores"] == drawn[1]["cores"] == 7
    assert drawn[1]["left_out"] == {"duplicate row, counted once": 3}


def test_of_two_registers_each_core_is_counted_where_it_is_furthest_on(tmp_path):
    """South has HV-0, which north has open, as reinstated; HV-1 as north has it; and another HV-2, 800 m away.

    Both registers together have eight cores in ten rows: seven of north, and the other HV-2.
    """
    programme = write_town(tmp_path)
    lines = (tmp_path / "cores.csv").read_text("utf-8").splitlines()
    handed = lines[1].replace("2026-08-01,,", "2026-08-01,2026-08-20,")
    assert handed != lines[1]
    elsewhere = lines[3].replace("-82.198", "-82.208")
    assert elsewhere != lines[3]
    south = [
        line.replace(",done,", ",put back,") if not at else line
        for at, line in enumerate([lines[0], handed, lines[2], elsewhere])
    ]
    (tmp_path / "south.csv").write_text("\n".join(south) + "\n", "utf-8")
    text = programme.read_text("utf-8")
    head, _, rest = text.partition("[cores]")
    section, _, layers = rest.partition("[roads]")
    further = section.replace("cores.csv", "south.csv").replace('"done"', '"put back"')
    both = f'{head}[[cores]]\nname = "north"\n{section}\n[[cores]]\nname = "south"\n{further}\n[roads]{layers}'
    programme.write_text(both, "utf-8")
    result = run_programme(programme, tmp_path / "out")
    account = result.account
    assert (account["rows_read"], account["copies"], account["cores"]) == (10, 2, 8)
    table = _table(result, "cores.csv").set_index(["register", "register_row"])
    assert table["core_id"].tolist()[7:] == ["HV-0", "HV-1", "HV-2"]
    # HV-0 is counted in south, which reinstated it; HV-1 in north, which comes first
    assert table["copy_of"].tolist() == ["8", "", "", "", "", "", "", "", "2", ""]
    found = _table(result, "findings.csv").groupby("rule")["row"].agg(list)
    assert found["core-handed-over"] == ["1", "8"]
    assert found["core-in-two-registers"] == ["2", "9"]
    assert found["id-in-two-registers"] == ["3", "10"]
    assert not {"cores-overlap", "id-duplicated", "row-duplicated"} & set(found.index)
    message = _table(result, "findings.csv").set_index(["row", "rule"])["message"]
    place = table.index.get_level_values("register_row")[1]
    assert f'Also in register "north", row {place}, ' in message["9", "core-in-two-registers"]
    # the road authority is handed no contractor's name
    handed_over = pd.read_csv(result.folder / "handover" / "findings.csv", dtype=str)
    assert not handed_over["message"].str.contains("north|south").any()
    assert "register" not in pd.read_csv(result.folder / "handover" / "cores.csv")
    assert account["flagged"] + account["reinstated"] + account["pending"] == 8
