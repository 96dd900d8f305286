"""The second sample read by its programme: every core arrives as its contractor knows it, and nothing else does."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.run import read_programme

_FOLDER = Path(__file__).parents[2] / "sample_data" / "three_contractors"
_DEGREE_M = 111_320.0


@pytest.fixture(scope="module")
def inputs():
    return read_programme(_FOLDER / "programme.toml")[3]


@pytest.fixture(scope="module")
def both(inputs):
    """The cores as read, beside the truth that the script wrote with the registers."""
    truth = pd.read_csv(_FOLDER / "truth.csv", dtype="str").astype({"place": "int64"})
    numbers = [
        "lon", "lat", "position_within_m", "diameter_mm", "depth_mm", "temperature_c", "water_l", "bags_used",
    ]  # fmt: skip
    truth[numbers] = truth[numbers].astype(float)
    read = inputs.cores.assign(register_file=inputs.cores["register_file"].str.replace(", sheet Cores 2026", ""))
    read = read.rename(columns={"register_file": "file", "register_row": "place"}).drop(columns="register")
    return truth.merge(read, on=["file", "place"], how="outer", suffixes=("_true", ""), indicator=True)


def test_every_core_arrives_and_no_row_without_one(both, inputs):
    assert both["_merge"].value_counts().to_dict() == {"both": 185, "left_only": 0, "right_only": 0}
    assert both["core_id"].fillna("").eq(both["core_id_true"].fillna("")).all()
    aside = len(inputs.register.set_aside)
    assert inputs.register.rows_in_file == 185 + aside
    assert aside == 54


def test_every_position_is_within_what_its_writing_allows(both):
    east = (both["lon"] - both["lon_true"]) * _DEGREE_M * np.cos(np.radians(44.8))
    north = (both["lat"] - both["lat_true"]) * _DEGREE_M
    apart = np.hypot(east, north)
    assert apart.isna().eq(both["lon_true"].isna()).all()
    # a centimetre for the length of a degree
    assert apart.dropna().le(both.loc[apart.notna(), "position_within_m"] + 0.01).all()


@pytest.mark.parametrize(
    ("true", "read", "within"),
    [
        ("diameter_mm_true", "diameter_mm", 0.6),
        ("depth_mm_true", "depth_mm", 0.6),
        ("temperature_c", "air_temperature_c", 0.3),
        ("water_l_true", "water_l", 0.03),
        ("bags_used_true", "bags_used", 0.001),
    ],
)
def test_every_measure_is_read_in_the_unit_it_was_written_in(both, true, read, within):
    assert both[read].isna().eq(both[true].isna()).all()
    assert (both[read] - both[true]).abs().dropna().le(within).all()


@pytest.mark.parametrize("name", ["opened_on", "reinstated_at"])
def test_every_date_is_the_day_that_was_meant(both, name):
    read = both[name].dt.strftime("%Y-%m-%d").fillna("")
    assert read.eq(both[f"{name}_true"].fillna("").str.slice(0, 10)).all()


def test_what_a_register_does_not_keep_is_known_for_each_by_itself(inputs):
    assert inputs.register.kept["air_temperature_c"] == {"Harbour Cutters", "North Gang"}
    assert inputs.register.kept["permit_no"] == {"Harbour Cutters"}
    assert inputs.register.kept["depth_mm"] == {"Harbour Cutters", "Vale Reinstatement", "North Gang"}


def test_cores_in_two_registers_are_counted_once(inputs):
    cores = inputs.cores
    # 5 exact copies, 2 cores handed over and 1 told twice
    assert int(cores["is_copy"].sum()) == 8
    shared = cores[cores["is_copy"] & cores["core_id"].isin(["HC-0046", "HC-0050", "HC-0040"])]
    assert len(shared) == 3
    counted = cores.set_index("row").loc[shared["copy_of"]]
    assert counted["core_id"].tolist() == shared["core_id"].tolist()
    assert counted["register"].ne(shared["register"].to_numpy()).all()
