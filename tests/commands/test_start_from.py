"""A programme proposed from files: the three contractors' registers need no editing except for the questions."""

import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import pytest

from pipeline.commands.start_from import propose_programme, write_programme
from pipeline.errors import InputError, OutputError
from pipeline.propose.questions import Choice
from pipeline.run import read_programme

_SAMPLE = Path(__file__).parents[2] / "sample_data"
_CONTRACTORS = _SAMPLE / "three_contractors"
_LAYERS = {
    "roads": _SAMPLE / "roads.gpkg",
    "surfaces": _SAMPLE / "surfaces.gpkg",
    "districts": _SAMPLE / "districts.geojson",
    "joints": _SAMPLE / "joints.gpkg",
    "resurfaced": _SAMPLE / "resurfaced.geojson",
    "planned_works": _SAMPLE / "planned_works.geojson",
    "protected": _SAMPLE / "protected.geojson",
    "stock": _SAMPLE / "stock.csv",
}
_ZONES = {"the programme": "America/Toronto", "Harbour cutters": "America/Chicago"}
_YARDS = tomllib.loads((_SAMPLE / "programme.toml").read_text("utf-8"))["orders"]["yards"]


def _as_the_office_knows(section, question):
    """Answer a question by what the sample's README says of the registers."""
    if "time zone" in question.text:
        zone = _ZONES[section.label]
        return Choice(f'"{zone}"', "", {("", "timezone"): zone})
    if "Which yard" in question.text:
        wanted = _YARDS[question.text.split('"')[1]]
    else:
        wanted = "us gal" if "Which unit" in question.text else "hole"
    return next(choice for choice in question.choices if choice.label == f'"{wanted}"')


@pytest.fixture(scope="module")
def proposed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("three") / "mine"
    registers = [_CONTRACTORS / name for name in ("harbour_cutters.xlsx", "vale_reinstatement", "north_gang.txt")]
    proposal = propose_programme(folder, [str(file) for file in registers], _LAYERS, lambda _: None)
    answers = {number: _as_the_office_knows(section, q) for number, section, q in proposal.questions}
    return proposal, write_programme(folder, proposal, answers)


def _file(label):
    """Return the name of the file, where a label names its sheet too."""
    return Path(label.partition(", sheet ")[0]).name


@pytest.fixture(scope="module")
def read(proposed):
    """The rows that the proposed programme reads, by file and place, beside the truth of the same place."""
    settings, _, _, inputs = read_programme(proposed[1])
    rows = inputs.register.frame
    # files are told from each other by their names
    rows = rows.assign(name=rows["register_file"].map(_file)).set_index(["name", "register_row"])
    truth = pd.read_csv(_CONTRACTORS / "truth.csv", dtype=str, keep_default_na=False).astype({"place": int})
    truth = truth.assign(name=truth["file"].map(lambda path: Path(path).name)).set_index(["name", "place"])
    return settings, rows.sort_index(), truth.sort_index(), inputs


def test_only_what_the_files_do_not_show_is_asked(proposed):
    asked = sorted((section.label, question.text.split("?")[0]) for _, section, question in proposed[0].questions)
    assert asked == [
        ("Harbour cutters", "What do the diameters of Harbour cutters, Vale reinstatement and North gang measure"),
        ("Harbour cutters", "Which time zone are the times of this register in"),
        ("Harbour cutters", 'Which unit is "Water (gal)" in'),
        ("the programme", "Which time zone is the town in"),
        *[
            ("the yards", f'Which yard supplies "{district}"')
            for district in sorted(_YARDS)
            if district != "(no district)"
        ],
    ]


def test_every_core_is_read_and_no_other_row_is(read):
    _, rows, truth, _ = read
    assert rows.index.tolist() == truth.index.tolist()
    assert rows["core_id"].fillna("").tolist() == truth["core_id"].tolist()


def test_every_row_without_a_core_in_the_sheets_that_are_read_is_set_aside(read):
    _, _, _, inputs = read
    aside = inputs.register.set_aside
    found = {(_file(label), place) for label, place in zip(aside["file"], aside["place"])}
    others = pd.read_csv(_CONTRACTORS / "not_cores.csv", dtype=str, keep_default_na=False).astype({"place": int})
    of_cores = others[others["sheet"].isin(["", "Cores 2026"]) & ~others["why"].isin(["blank", "header"])]
    assert {(Path(file).name, place) for file, place in zip(of_cores["file"], of_cores["place"])} <= found


def test_every_position_lies_where_the_truth_has_it(read):
    _, rows, truth, _ = read
    placed = truth["lon"].ne("").to_numpy()
    assert rows["lon"].notna().tolist() == placed.tolist()
    here, there = rows[placed], truth[placed]
    _, _, metres = pyproj.Geod(ellps="WGS84").inv(
        here["lon"], here["lat"], there["lon"].astype(float), there["lat"].astype(float)
    )
    assert (np.asarray(metres) <= there["position_within_m"].astype(float).to_numpy()).all()


@pytest.mark.parametrize(
    ("column", "told", "within"),
    [
        ("diameter_mm", "diameter_mm", 0.006),
        ("depth_mm", "depth_mm", 0.006),
        ("air_temperature_c", "temperature_c", 0.006),
        ("water_l", "water_l", 0.0006),
        ("bags_used", "bags_used", 1e-9),
    ],
)
def test_every_measure_is_the_one_of_the_truth(read, column, told, within):
    _, rows, truth, _ = read
    expected = pd.to_numeric(truth[told].where(truth[told].ne("")))
    np.testing.assert_allclose(rows[column].to_numpy(), expected.to_numpy(), rtol=0, atol=within)


@pytest.mark.parametrize("column", ["opened_on", "reinstated_at"])
def test_every_date_is_the_one_of_the_truth(read, column):
    _, rows, truth, _ = read
    zone = "America/Toronto"
    expected = truth[column].map(lambda text: pd.Timestamp(text) if text else pd.NaT)
    expected = expected.map(lambda day: day.tz_convert(zone) if day.tzinfo else pd.Timestamp(day).tz_localize(zone))
    assert [str(one) for one in rows[column]] == [str(one) for one in expected]


def test_monthly_lists_are_one_register_with_a_pattern(read):
    settings, _, _, _ = read
    names = [(section.register_name, Path(section.path).name) for section in settings.cores]
    assert names == [
        ("Harbour cutters", "harbour_cutters.xlsx"), ("Vale reinstatement", "*.csv"), ("North gang", "north_gang.txt"),
    ]  # fmt: skip


def test_nothing_is_overwritten(tmp_path):
    (tmp_path / "programme.toml").write_text("mine", "utf-8")
    with pytest.raises(OutputError, match="exists already, and nothing is overwritten"):
        propose_programme(tmp_path, [str(_CONTRACTORS / "north_gang.txt")], {}, lambda _: None)
    assert (tmp_path / "programme.toml").read_text("utf-8") == "mine"


@pytest.mark.parametrize(("folder", "name"), [("Quay\u2028 7\x85", "Quay 7"), ("y" * 201, "y" * 200)])
def test_the_programme_is_named_after_its_folder_by_what_a_name_may_hold(tmp_path, folder, name):
    proposal = propose_programme(tmp_path / folder, [], {}, str)
    target = write_programme(tmp_path / folder, proposal, {})
    assert tomllib.loads(target.read_text("utf-8"))["programme"]["name"] == name


def test_a_register_that_is_not_there_is_named(tmp_path):
    with pytest.raises(InputError, match=r"gone\.csv: no such file\. Correct --from\."):
        propose_programme(tmp_path, [str(tmp_path / "gone.csv")], {}, lambda _: None)


def test_without_roads_the_crs_is_a_question_and_the_roads_are_a_section_to_fill_in(tmp_path):
    register = tmp_path / "cores.csv"
    register.write_text("Core no,E,N,Dia (mm),Depth (mm)\nA-1,405093.25,4961635.29,450,200\n", "utf-8")
    proposal = propose_programme(tmp_path / "mine", [str(register)], {}, lambda _: None)
    texts = [question.text for _, _, question in proposal.questions]
    assert any("there are no roads to compare with" in text for text in texts)
    text = write_programme(tmp_path / "mine", proposal, {}).read_text("utf-8")
    assert '\n# [roads]\n# path = "..."\n' in text
    assert "crs" not in tomllib.loads(text)["cores"][0]


def test_no_cell_and_no_header_can_add_a_setting_or_break_the_file(tmp_path):
    register = tmp_path / "cores.csv"
    evil = '"1.5\n[evil]\nx = 1"'
    register.write_bytes(
        'id,lon,lat,"dia "" \\ # [x] (mm)",depth (mm),water (gal)\n'
        f'A-1,-82.2,44.8,450,200,{evil}\nA-2,-82.2,44.8,450,200,3 = [x]\nA-3,-82.2,44.8,450,200,2\n'
        "A-4,-82.2,44.8,450,200,1\u2028y=2\nA-5,-82.2,44.8,450,200,3\n".encode()
    )  # fmt: skip
    proposal = propose_programme(tmp_path / "mine", [str(register)], {"roads": _LAYERS["roads"]}, lambda _: None)
    written = tomllib.loads(write_programme(tmp_path / "mine", proposal, {}).read_text("utf-8"))
    assert set(written) == {"programme", "cores", "roads"}
    assert written["cores"][0]["columns"] == {
        "core_id": "id", "diameter": 'dia " \\ # [x] (mm)', "depth": "depth (mm)",
    }  # fmt: skip


def test_a_proposal_with_open_questions_still_lets_the_inputs_be_read(tmp_path):
    proposal = propose_programme(
        tmp_path / "mine", [str(_CONTRACTORS / "harbour_cutters.xlsx")], {"roads": _LAYERS["roads"]}, lambda _: None
    )
    _, _, _, inputs = read_programme(write_programme(tmp_path / "mine", proposal, {}))
    assert len(inputs.cores) == 60
    # its unit is open, and so is the column
    assert inputs.cores["water_l"].isna().all()
    assert inputs.cores["air_temperature_c"].notna().any()
