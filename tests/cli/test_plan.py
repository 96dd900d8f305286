"""The commands ``plan`` and ``return``, as they are typed."""

import pandas as pd
from click.testing import CliRunner

from pipeline.cli.group import commands


def test_plan_prints_what_is_planned_late_and_left_and_where_it_is(run_folder, tmp_path):
    done = CliRunner().invoke(commands, ["plan", str(run_folder), "--out", str(tmp_path / "plan"), "--horizon", "60"])
    assert done.exit_code == 0, done.output
    assert "Quay 2026, as of 2026-09-30: 3 cores planned, " in done.output
    assert f"Plan: {tmp_path / 'plan'}" in done.output


def test_return_prints_what_came_back_what_is_left_out_and_the_setting_that_names_it(run_folder, tmp_path):
    sheet = pd.read_csv(run_folder / "return-sheet.csv", dtype=str, keep_default_na=False)
    sheet.loc[sheet["core_id"].eq("HV-0"), ["bags_used", "reinstated_at"]] = ["some", "2026-10-02 10:20"]
    sheet.to_csv(tmp_path / "east.csv", index=False)
    out = tmp_path / "returns-east.csv"
    done = CliRunner().invoke(commands, ["return", str(run_folder), str(tmp_path / "east.csv"), "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert "Quay 2026, as of 2026-09-30: 1 core returned, 2 rows left blank." in done.output
    assert 'HV-0, bags_used: found "some": not a number.' in done.output
    assert '[returns] path = ["returns-east.csv"]' in done.output
    assert out.is_file()
