"""What a run keeps for ``kerfbook explain``: the run's own numbers, in the order of the register, in the same bytes."""

import hashlib
import json

import pandas as pd
import pytest
from pyarrow import parquet

from pipeline.audit.outcomes import FOUND, NOT_APPLICABLE, NOT_ASSESSED
from pipeline.publish.basis import basis_tables, write_basis
from pipeline.readback.basis import BASIS_TABLES


@pytest.fixture(scope="module")
def tables(demo):
    return {name: pd.read_parquet(demo.folder / "basis" / f"{name}.parquet") for name in BASIS_TABLES}


def test_every_column_of_the_audit_comes_back_in_the_order_of_the_register(demo, tables):
    cores = tables["cores"]
    assert set(demo.cores) <= set(cores)
    assert cores["row"].tolist() == demo.cores["row"].tolist()
    for name in ("diameter_mm", "grout_net_l", "core_id", "street_matched", "depth_mm_text"):
        pd.testing.assert_series_equal(cores[name], demo.cores[name], check_index=False)


def test_the_outcomes_are_those_that_the_rule_book_counts(demo, tables):
    once = tables["outcomes"][~demo.cores["is_copy"].to_numpy()]
    for rule in demo.audit.rules.to_dict("records"):
        codes = once[rule["rule"]]
        assert codes.eq(FOUND).sum() == rule["found"]
        assert codes.eq(NOT_ASSESSED).sum() == rule["not_assessed"]
        assert codes.eq(NOT_APPLICABLE).sum() == rule["not_applicable"]


def test_the_chances_of_a_core_add_up_and_the_likeliest_is_its_own(demo, tables):
    candidates = tables["candidates"]
    total = candidates.groupby("row")["chance"].sum()
    assert total.between(1 - 1e-4, 1 + 1e-5).all()
    best = candidates.sort_values("chance").drop_duplicates("row", keep="last").set_index("row")
    own = demo.cores.set_index("row")["segment_confidence"].dropna()
    assert (best["chance"].reindex(own.index) - own).abs().max() < 1e-6
    assert tables["surfaces"].groupby("row")["chance"].sum().sub(1).abs().max() < 1e-6


def test_the_cores_of_a_mix_share_its_bags(demo, tables):
    plan = tables["plan"]
    assert plan["row"].is_monotonic_increasing
    whole = plan.groupby("mix")["bags_mixed"].sum()
    assert whole.sub(whole.round()).abs().max() < 1e-9
    assert whole.sum() == pytest.approx(demo.orders.sharing["shared"].sum())


def test_each_value_of_the_materials_is_there_with_its_unit_and_source(tables):
    materials = tables["materials"].set_index("name")
    # config/materials.toml, read by eye
    assert materials.loc["geometry.kerf", ["value", "unit", "origin"]].tolist() == [9, "mm", "shipped"]
    assert materials.loc["grout.overfill", ["value", "unit"]].tolist() == [0.2, "%"]
    assert materials.loc["bedding.pea gravel.bulk_density", "value"] == pytest.approx(1.59)
    assert materials.loc["bedding.pea gravel.bulk_density", "unit"] == "kg/L"
    assert materials.loc["core_density.asphalt", ["unit", "origin"]].tolist() == ["kg/L", "shipped"]
    assert materials.loc["core_density.asphalt", "value"] == pytest.approx(2.35)
    assert materials["source"].str.len().gt(0).all()


def test_the_programmes_own_limits_follow_the_shipped_ones(tables):
    limits = tables["limits"]
    here = limits[limits["rule"].eq("segment-crowded")]
    assert here["value"].tolist() == ["10", "5.5"]
    assert here["origin"].tolist() == ["shipped", "programme"]
    scoped = limits[limits["road_authority"].eq("Vale County")]
    assert scoped["value"].tolist() == ["3 mm"]


def test_the_same_run_gives_the_same_bytes_and_the_record_their_checksums(demo, tmp_path):
    kept = write_basis(demo, tmp_path)
    recorded = json.loads((demo.folder / "run.json").read_text())["basis"]
    assert kept == recorded
    for name, digest in kept["sha256"].items():
        assert hashlib.sha256((tmp_path / "basis" / name).read_bytes()).hexdigest() == digest
    assert {file.stem for file in (demo.folder / "basis").iterdir()} == set(BASIS_TABLES)


def test_nothing_of_it_is_handed_over(demo):
    assert not (demo.folder / "handover" / "basis").exists()
    assert not any("basis" in file.name for file in (demo.folder / "handover").rglob("*"))


def test_texts_are_kept_by_a_dictionary_and_likelihoods_short(demo):
    folder = demo.folder / "basis"
    group = parquet.ParquetFile(folder / "candidates.parquet").metadata.row_group(0)
    by_name = {group.column(at).path_in_schema: group.column(at) for at in range(group.num_columns)}
    assert "RLE_DICTIONARY" in by_name["street"].encodings
    assert by_name["chance"].physical_type == "FLOAT"
    assert by_name["chance"].compression == "ZSTD"


def test_a_run_without_chances_keeps_an_empty_table(demo):
    plain = demo.__class__(**{**vars(demo), "reasons": demo.reasons._replace(surfaces=None)})
    assert len(basis_tables(plain)["surfaces"]) == 0
