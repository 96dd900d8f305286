"""Two months: the plan of the first goes out as a sheet, comes back filled in, and the second shows those cores as back."""

import shutil

import pandas as pd
import pytest

from pipeline.commands.return_sheet import take_back
from pipeline.errors import InputError, OutputError, SettingsError
from pipeline.publish.return_sheet import kept_sheets
from pipeline.run import run_programme


@pytest.fixture(scope="module")
def month(small_town):
    """The small town, audited with its plan: HV-0, HV-2 and HV-4 are open."""
    programme, run = small_town
    return programme.parent, programme, run


def _sheet(month, folder, **boxes):
    """Write the run's sheet with boxes filled in by core: ``HV_2={"bags_used": "1"}``."""
    sheet = pd.read_csv(month[2].folder / "return-sheet.csv", dtype=str, keep_default_na=False)
    for core, filled in boxes.items():
        for name, cell in filled.items():
            sheet.loc[sheet["core_id"].eq(core.replace("_", "-")), name] = cell
    path = folder / "back.csv"
    sheet.to_csv(path, index=False)
    return path


def test_the_run_writes_a_sheet_with_an_empty_box_for_each_field(month):
    sheet = pd.read_csv(month[2].folder / "return-sheet.csv", dtype=str, keep_default_na=False)
    assert sorted(sheet["core_id"]) == sorted(month[2].plan.stops["core_id"])
    assert {"HV-0", "HV-2", "HV-4"} <= set(sheet["core_id"])
    assert set(sheet["register"]) == {"cores"}
    assert (sheet[["bags_used", "water_used_l", "reinstated_at", "shade_used", "depth_found_mm"]] == "").all(axis=None)


def test_a_sheet_filled_in_where_it_was_written_is_kept_as_the_run_is_written_again(month, tmp_path):
    folder, _, run = month
    town = tmp_path / "town"
    shutil.copytree(folder, town)
    sheet = town / run.folder.relative_to(folder) / "return-sheet.csv"
    empty = sheet.read_bytes()
    held = []
    for filled in (empty.replace(b"\n", b"\n ", 1)[:-1] + b"!\n", b"saved;by;a;spreadsheet\n1;2;3;4\n"):
        sheet.write_bytes(filled)
        held.append(filled)
        result = run_programme(town / "programme.toml", town / "out")
        assert sheet.read_bytes() == empty
        for number, kept in enumerate(held, start=1):
            assert (result.folder / f"return-sheet-kept-{number}.csv").read_bytes() == kept
    assert [notice.partition(":")[0] for notice in kept_sheets(result.folder)] == [
        "return-sheet-kept-1.csv", "return-sheet-kept-2.csv"
    ]  # fmt: skip
    # one in which no box was filled in is no loss
    sheet.write_bytes(empty.replace(b"\n", b"\r\n"))
    run_programme(town / "programme.toml", town / "out")
    assert not (result.folder / "return-sheet-kept-3.csv").exists()


def test_the_next_audit_shows_returned_cores_as_back_with_their_bags(month, tmp_path):
    folder, programme, _ = month
    shutil.copytree(folder, tmp_path / "town", ignore=shutil.ignore_patterns("out"))
    filled = {"reinstated_at": "2026-10-02 10:20", "bags_used": "2", "water_used_l": "5", "shade_used": "dark"}
    sheet = _sheet(month, tmp_path, HV_2=filled, HV_4={"remarks": "no access"})
    taken = take_back(month[2].folder, sheet, tmp_path / "town" / "returns.csv")
    assert (taken.cores, len(taken.problems)) == (2, 0)
    second = tmp_path / "town" / "programme.toml"
    text = programme.read_text("utf-8").replace("2026-09-30", "2026-10-31")
    second.write_text(text + '\n[returns]\npath = ["returns.csv"]\n', encoding="utf-8")
    result = run_programme(second, tmp_path / "town" / "out")
    cores = result.cores.set_index("core_id")
    # bags_used of HV-2 is in the register, and stays; so does its crew
    assert cores.loc["HV-2", "bags_used"] == 0.6
    assert (cores.loc["HV-2", "state"], cores.loc["HV-4", "state"]) == ("back", "open")
    assert cores.loc["HV-2", "reinstated_at"] == pd.Timestamp("2026-10-02 10:20", tz="America/Toronto")
    assert cores.loc["HV-2", "water_l"] == 5
    assert not result.plan.stops["core_id"].isin(["HV-2"]).any()
    report = pd.read_csv(result.folder / "returns_report.csv", dtype=str)
    outcome = report.set_index(["core_id", "column"])["outcome"]
    assert outcome["HV-2", "bags_used"] == "not used: the register holds another value"
    assert outcome["HV-2", "reinstated_at"] == "filled"
    assert [file.section for file in result.inputs.files].count("returns") == 1
    assert any(notice.startswith("Returns: ") for notice in result.inputs.notices)


def test_another_program_may_have_changed_separator_order_dates_and_marks(month, tmp_path):
    sheet = pd.read_csv(
        _sheet(month, tmp_path, HV_0={"bags_used": "1,5", "reinstated_at": "13/10/2026 14:30"}), dtype=str
    )
    changed = tmp_path / "changed.csv"
    sheet[sheet.columns[::-1]].to_csv(changed, index=False, sep=";", encoding="utf-8-sig")
    taken = take_back(month[2].folder, changed, tmp_path / "returns.csv")
    back = pd.read_csv(taken.path, dtype=str).set_index("core_id").loc["HV-0"]
    assert (back["bags_used"], back["reinstated_at"]) == ("1.5", "2026-10-13T14:30-04:00")


def test_a_workbook_is_taken_back_and_a_time_alone_is_of_the_planned_day(month, tmp_path):
    sheet = pd.read_csv(_sheet(month, tmp_path, HV_0={"reinstated_at": "10:20"}), dtype=str)
    sheet.to_excel(tmp_path / "back.xlsx", index=False)
    taken = take_back(month[2].folder, tmp_path / "back.xlsx", tmp_path / "returns.csv")
    back = pd.read_csv(taken.path, dtype=str).set_index("core_id").loc["HV-0"]
    day = month[2].plan.stops.set_index("core_id").loc["HV-0", "day"]
    assert back["reinstated_at"] == f"{day:%Y-%m-%d}T10:20-04:00"


def test_what_cannot_be_used_is_left_out_with_its_row_and_the_rest_is_kept(month, tmp_path):
    sheet = _sheet(
        month, tmp_path, HV_0={"bags_used": "many", "remarks": "x"}, HV_2={"reinstated_at": "2026-07-01"},
        HV_4={"reinstated_at": "2026-10-02 10:00", "reopened_at": "2026-10-02 09:00"},
    )  # fmt: skip
    with sheet.open("a", encoding="utf-8") as file:
        names = sheet.read_text("utf-8").splitlines()[0].split(",")
        file.write(",".join({"core_id": "HV-77", "bags_used": "1"}.get(name, "") for name in names) + "\n")
    taken = take_back(month[2].folder, sheet, tmp_path / "returns.csv")
    assert sorted(zip(taken.problems["core_id"], taken.problems["column"], taken.problems["why"], strict=True)) == [
        ("HV-0", "bags_used", "not a number"), ("HV-2", "reinstated_at", "before the core was opened"),
        ("HV-4", "reopened_at", "before the core was reinstated"), ("HV-77", "core_id", "no such core in the run"),
    ]  # fmt: skip
    back = pd.read_csv(taken.path, dtype=str).set_index("core_id")
    assert back.loc["HV-0", "remarks"] == "x"
    assert back.loc["HV-4", "reinstated_at"] == "2026-10-02T10:00-04:00"
    assert back.loc["HV-4", ["bags_used", "reopened_at"]].isna().all()
    # where nothing at all can be used nothing came back
    assert (sorted(back.index), taken.cores) == (["HV-0", "HV-4"], 2)


def test_another_shade_than_the_core_needs_is_a_warning_and_so_are_bags_without_a_date(month, tmp_path):
    sheet = _sheet(month, tmp_path, HV_0={"shade_used": "light", "bags_used": "1"})
    warnings = take_back(month[2].folder, sheet, tmp_path / "returns.csv").warnings
    assert warnings["why"].tolist() == ['the core needs "dark"', "bags without reinstated_at: the core stays open"]


def test_it_replaces_no_other_register_of_returns_and_writes_into_no_run(month, tmp_path):
    run, out = month[2].folder, tmp_path / "returns.csv"
    take_back(run, _sheet(month, tmp_path, HV_0={"remarks": "x"}), out)
    take_back(run, _sheet(month, tmp_path, HV_0={"remarks": "x"}), out)
    with pytest.raises(OutputError, match="already exists and is different"):
        take_back(run, _sheet(month, tmp_path, HV_0={"remarks": "y"}), out)
    with pytest.raises(SettingsError, match="in a run's folder"):
        take_back(run, tmp_path / "back.csv", run / "returns.csv")
    with pytest.raises(SettingsError, match=r"ends in \.csv"):
        take_back(run, tmp_path / "back.csv", tmp_path / "returns.txt")


def test_a_sheet_with_nothing_wrong_has_no_warning(month, tmp_path):
    filled = {"reinstated_at": "2026-10-02 10:20", "bags_used": "1", "shade_used": "Dark"}
    taken = take_back(month[2].folder, _sheet(month, tmp_path, HV_2=filled, HV_4=filled), tmp_path / "returns.csv")
    assert (taken.cores, len(taken.problems), len(taken.warnings)) == (2, 0, 0)


def test_a_core_in_two_rows_counts_once_and_is_a_warning(month, tmp_path):
    sheet = _sheet(month, tmp_path, HV_2={"reinstated_at": "2026-10-02 10:20", "bags_used": "1"})
    rows = pd.read_csv(sheet, dtype=str, keep_default_na=False)
    again = rows[rows["core_id"].eq("HV-2")].assign(core_id="hv-2", bags_used="2")
    pd.concat([rows, again]).to_csv(sheet, index=False)
    taken = take_back(month[2].folder, sheet, tmp_path / "returns.csv")
    assert taken.cores == 1
    assert taken.warnings["why"].tolist() == ["this core is in several rows: of each field, the last counts"]


def test_a_sheet_without_a_row_is_refused(month, tmp_path):
    head = (month[2].folder / "return-sheet.csv").read_text("utf-8").splitlines()[0]
    (tmp_path / "back.csv").write_text(head + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"back\.csv: found no row below the header, expected one row per stop"):
        take_back(month[2].folder, tmp_path / "back.csv", tmp_path / "returns.csv")


def test_a_file_that_is_no_sheet_is_refused(month, tmp_path):
    (tmp_path / "other.csv").write_text("core_id,what\nHV-1,2\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"other\.csv: no column `bags_used`.*return-sheet\.csv"):
        take_back(month[2].folder, tmp_path / "other.csv", tmp_path / "returns.csv")
    with pytest.raises(InputError, match="no such file"):
        take_back(month[2].folder, tmp_path / "gone.csv", tmp_path / "returns.csv")
