"""Tests of what is written of the plan."""

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.clock import numbered, silent
from pipeline.publish.plan import DAYS, SHEETS_PDF, write_plan
from tests.publish.plan.small_plan import HOSTILE, small_plan, with_straight_ways


def _written(result, folder, pdf=None):
    folder.mkdir()
    write_plan(result, folder, numbered(silent, 1, "outputs"), pdf)
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return _written(small_plan(), tmp_path_factory.mktemp("written") / "run")


def test_tables_sheets_and_a_pair_of_files_per_crew_day(files):
    days = small_plan().plan.days
    names = {f"{DAYS}/quayside-crew-{day:%Y-%m-%d}.{ending}" for day in days["day"] for ending in ("gpx", "ics")}
    assert set(files) == {"plan.csv", "plan_days.csv", "not_planned.csv", "crew-sheets.html"} | names


def test_the_same_plan_gives_the_same_bytes(files, tmp_path):
    assert _written(small_plan(), tmp_path / "run") == files


def test_crews_of_names_alike_have_files_of_their_own_and_no_name_leaves_the_folder(tmp_path):
    result = small_plan()
    crews = ["../../up/ÉQUIPE 1", "equipe-1", HOSTILE]
    stops = result.plan.stops.assign(crew=crews, stop=1, day=pd.Timestamp(2026, 10, 5))
    days = result.plan.days.iloc[[0] * 3].assign(crew=crews, day=pd.Timestamp(2026, 10, 5))
    result = with_straight_ways(replace(result, plan=result.plan._replace(stops=stops, days=days)))
    written = _written(result, tmp_path / "run")
    assert sum(name.startswith(f"{DAYS}/") for name in written) == 6
    assert {path.name for path in tmp_path.iterdir()} == {"run"}


def test_the_pdf_is_written_only_where_it_is_asked_for(tmp_path):
    try:
        import weasyprint  # noqa: F401, PLC0415 - raises where Pango is not
    except (ImportError, OSError) as error:
        pytest.skip(f"needs WeasyPrint and Pango: {error}")
    written = _written(small_plan(), tmp_path / "run", "A4")
    assert written[SHEETS_PDF].startswith(b"%PDF")
