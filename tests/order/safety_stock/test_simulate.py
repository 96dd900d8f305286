"""Safety stock: each source of uncertainty alone against a distribution that can be written down, and the laws."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, nbinom, norm, triang

from pipeline.errors import SettingsError
from pipeline.order.safety_stock.simulate import SAFETY_STOCK_COLUMNS, simulate_safety_stock
from pipeline.order.safety_stock.volume_model import Calibrated
from pipeline.programme.catalogue import load_catalogue
from pipeline.quantify import quantify

_RANGED = {
    ("geometry", "kerf"): "9 mm",
    ("geometry", "pilot_hole"): "38.1 mm",
    ("geometry", "gap"): "12.7 mm",
    ("geometry", "bed_fill"): "0 %",
    ("grout", "wet_density"): "2.15 kg/L",
    ("grout", "overfill"): "20 %",
}


def _materials(**ranges):
    """The catalogue's, without any range but those given: name = (low, value, high)."""
    written = {"geometry": {}, "grout": {}}
    for (table, name), usual in _RANGED.items():
        low, value, high = ranges.get(name, (usual, usual, usual))
        written[table][name] = {"value": value, "low": low, "high": high, "source": "test"}
    return load_catalogue({"materials": written}, "test").materials


_SURE = _materials()


def _cores(count, district="Quay", shade="dark", hole_mm=457.2, depth_mm=304.8, per_mix=1, **columns):
    """Planned cores, ``per_mix`` neighbours to each mix; bags are what the mixes need, opened at their first cores."""
    frame = pd.DataFrame({"hole_mm": [float(hole_mm)] * count, "depth_mm": [float(depth_mm)] * count})
    frame = frame.assign(bedding="pea gravel", surface="asphalt", mix=np.arange(count) // per_mix)
    for name, value in {"district": district, "shade": shade}.items():
        frame[name] = pd.Series([value] * count, dtype="str")
    return _planned(frame.assign(**columns))


def _planned(frame):
    need = _need(frame, load_catalogue({}, "test")).groupby(frame["mix"]).sum()
    opened = np.ceil((need - 1e-9).to_numpy())
    return frame.assign(bags=np.where(frame["mix"].duplicated(), 0.0, opened[frame["mix"]]))


def _join(*parts):
    """Several tables of cores as one, with mixes of their own."""
    shifted, at = [], 0
    for part in parts:
        shifted.append(part.assign(mix=part["mix"] + at))
        at += part["mix"].max() + 1
    return pd.concat(shifted, ignore_index=True)


def _need(cores, catalogue, hole=None):
    return quantify(cores, cores["hole_mm"] if hole is None else hole, cores["depth_mm"], catalogue)["bags"]


def _first(found):
    return found.lines.iloc[0]


def test_with_nothing_uncertain_the_bags_to_mix_are_enough():
    cores = _join(_cores(4, per_mix=2), _cores(3, hole_mm=600, depth_mm=150), _cores(1, shade="pale"))
    found = simulate_safety_stock(cores, _SURE)
    planned = cores.groupby("shade")["bags"].sum()
    lines = found.lines.set_index("shade")
    for name in ("expected", "enough", "mean", "enough_jointly"):
        assert lines[name].to_dict() == planned.to_dict()
    assert lines["cores"].to_dict() == {"dark": 7, "pale": 1}
    assert (lines[["safety_stock", "error", "without_model"]] == 0).all(axis=None)
    assert (lines[["planned_suffices", "joint_level"]] == 1).all(axis=None)


def test_a_hole_that_was_written_as_the_core_widens_with_the_kerf():
    # the plug is 300 mm and the kerf 5 mm instead of the catalogue's 9 mm: the hole is 310 mm, not 318 mm
    written = _cores(1, hole_mm=318, depth_mm=1000)
    catalogue = load_catalogue({"materials": {"geometry": {"kerf": "5 mm"}}}, "test")
    calibrated = Calibrated(5.0, 12.7, ((0, 0), (0, 0)))
    for diameter_is, hole in (("core", 310.0), ("hole", 318.0)):
        # half bags a thousandth wide show the need itself
        line = _first(simulate_safety_stock(written, _SURE, diameter_is, calibrated=calibrated, smallest=1e-3))
        assert line["enough"] == pytest.approx(_need(written, catalogue, pd.Series([hole])).iloc[0], abs=1e-3)


def test_the_leftover_of_the_mixes_takes_up_what_the_model_adds():
    # overfill alone is uncertain, triangular 0, 20, 30 %; a core needs 0.6 bags at 20 %, 0.65 at 30 %: still one bag
    materials = _materials(overfill=("0 %", "20 %", "30 %"))
    cores = _cores(40, depth_mm=200.0)
    assert _need(cores, load_catalogue({}, "test")).iloc[0] < 1 / 1.3 * 1.2
    line = _first(simulate_safety_stock(cores, materials))
    assert (line["expected"], line["safety_stock"]) == (40, 0)


def test_the_model_is_drawn_once_for_all_so_districts_run_out_together():
    # two cores per mix; the need is a straight line in the depth, here the one that needs 0.98 bags: above an overfill
    # of 1.2 x 2 / 1.96 = 22.4 % every mix takes a third bag
    materials = _materials(overfill=("0 %", "20 %", "30 %"))
    thin, thick = (_need(_cores(1, depth_mm=depth), load_catalogue({}, "test")).iloc[0] for depth in (100, 200))
    depth = 100 + 100 * (0.98 - thin) / (thick - thin)
    cores = _join(*(_cores(count, district=name, depth_mm=depth, per_mix=2) for name, count in (("Quay", 40), ("Mill", 60))))  # fmt: skip
    need = 1.96
    found = simulate_safety_stock(cores, materials, simulations=20_000)
    assert found.lines["enough"].tolist() == [90, 60]
    suffices = triang(2 / 3, 0, 0.3).cdf(1.2 * 2 / need - 1)
    for table in (found.lines, found.totals):
        assert table["planned_suffices"].tolist() == pytest.approx([suffices] * 2, abs=0.01)
    total = found.totals.iloc[-1]
    assert (total["expected"], total["enough"], total["enough_jointly"]) == (100, 150, 150)
    # they run out in the same simulations, so that what suffices for each suffices for all
    assert total["joint_level"] == 1
    assert total["mean"] == pytest.approx(100 * suffices + 150 * (1 - suffices), rel=0.01)
    # all of it because the model is not known
    assert (total["from_model"], total["without_model"]) == (50, 0)


def test_what_was_calibrated_takes_the_place_of_the_ranges():
    # only the bed is uncertain, and the need follows it in a straight line: normal; pi/4 D^2 = 164,173 mm2, so 2 mm
    # of bed are 0.3283 L, x 1.2 x 2.15 / 22 = 0.03851 bags per core
    materials = load_catalogue({}, "test").materials
    calibrated = Calibrated(9.0, 12.7, ((0, 0), (0, 4.0)))
    # ten cores in one mix, weighed to a thousandth of a bag
    cores = _cores(10, per_mix=10)
    line = _first(simulate_safety_stock(cores, materials, calibrated=calibrated, simulations=20_000, smallest=1e-3))
    need = _need(cores, load_catalogue({}, "test")).sum()
    assert line["enough"] - need == pytest.approx(10 * 0.03851 * norm.ppf(0.95), rel=0.02)


def test_a_calibration_leaves_less_to_hold_than_the_ranges():
    materials = load_catalogue({}, "test").materials
    cores = _join(*(_cores(10, depth_mm=depth, per_mix=2) for depth in (150, 200, 250, 300, 350)))
    ranges, calibrated = (
        simulate_safety_stock(cores, materials, calibrated=one).totals.iloc[-1]
        for one in (None, Calibrated(9.0, 12.7, ((0.04, 0), (0, 0.1))))
    )
    assert calibrated["safety_stock"] < 0.5 * ranges["safety_stock"]
    assert calibrated["safety_stock"] >= calibrated["without_model"]


def test_kerf_and_bed_that_offset_each_other_leave_less_to_hold():
    cores = _cores(10, per_mix=10)
    need = _need(cores, load_catalogue({}, "test")).sum()
    together, against = (
        _first(
            simulate_safety_stock(
                cores, _SURE, calibrated=Calibrated(9.0, 12.7, ((1.0, both), (both, 9.0))), smallest=1e-3
            )
        )["enough"]
        - need
        for both in (2.9, -2.9)
    )
    assert against < 0.2 * together


def test_each_bag_is_lost_with_the_stated_chance():
    # 50 mixes of a bag that hold: the lost ones are negative binomial
    cores = _cores(50)
    for level in (0.5, 0.95, 0.99):
        line = _first(simulate_safety_stock(cores, _SURE, waste=0.1, service_level=level, simulations=20_000))
        assert line["expected"] == 50
        assert line["enough"] == pytest.approx(50 + nbinom(50, 0.9).ppf(level), abs=1)
        assert line["from_waste"] == pytest.approx(line["safety_stock"], abs=1)
        assert line["without_model"] == pytest.approx(line["safety_stock"], abs=1)
    # 50 / (1 - 0.1)
    assert line["mean"] == pytest.approx(50 / 0.9, rel=5e-3)


def test_districts_that_run_out_apart_suffice_together_by_the_product_of_their_chances():
    cores = _join(*(_cores(50, district=name) for name in ("Quay", "Mill", "Shore")))
    found = simulate_safety_stock(cores, _SURE, waste=0.1, simulations=20_000)
    held = 50 + nbinom(50, 0.9).ppf(0.95)
    alone = nbinom(50, 0.9).cdf(held - 50)
    assert found.lines["enough"].tolist() == [held] * 3
    assert found.lines["joint_level"].tolist() == pytest.approx([alone**3] * 3, abs=0.01)
    # 0.95^(1/3) each
    assert found.lines["enough_jointly"].tolist() == pytest.approx([50 + nbinom(50, 0.9).ppf(0.95 ** (1 / 3))] * 3, abs=1)  # fmt: skip
    # one store for all holds less than three
    assert found.totals.iloc[-1]["enough"] < 3 * held


def test_a_core_of_another_shade_takes_a_bag_of_its_own():
    # 30 mixes of a dark bag, each pale with a chance of 1 in 10; nothing pale is planned
    cores = _cores(30).assign(shade_dark_chance=0.9, shade_pale_chance=0.1)
    lines = simulate_safety_stock(cores, _SURE, simulations=20_000).lines.set_index("shade")
    assert lines["expected"].to_dict() == {"dark": 30, "pale": 0}
    assert lines.loc["pale", "enough"] == binom(30, 0.1).ppf(0.95)
    assert lines.loc["dark", "safety_stock"] == 0
    assert lines["cores"].tolist() == pytest.approx([27, 3])


def test_a_mix_across_a_boundary_leaves_each_district_its_bags():
    cores = _cores(2, per_mix=2).assign(district=pd.Series(["Quay", "Mill"], dtype="str"))
    lines = simulate_safety_stock(cores, _SURE).lines.set_index("district")
    assert lines["expected"].to_dict() == {"Mill": 0, "Quay": 2}
    assert lines["enough"].to_dict() == {"Mill": 0, "Quay": 2}


def test_cores_to_be_surveyed_are_no_part_of_the_bags_to_mix():
    cores = _cores(10)
    plain = simulate_safety_stock(cores, _SURE)
    beside = simulate_safety_stock(cores, _SURE, to_survey=_cores(5).assign(depth_mm=np.nan))
    pd.testing.assert_frame_equal(plain.lines, beside.lines)
    assert plain.survey.empty
    # each is like the known ten: one bag
    assert beside.survey[["cores", "expected", "enough"]].to_numpy().tolist() == [[5, 5, 5]] * 2


def _mixed(count, seed, district):
    rng = np.random.default_rng(seed)
    dark = rng.choice([0, 0.2, 0.9, 1], count)
    cores = _cores(count, district=district, per_mix=2)
    of_mix = dark[cores["mix"] * 2]
    cores = cores.assign(
        hole_mm=rng.choice([450.0, 600.0], count),
        depth_mm=rng.uniform(100, 400, count),
        shade=np.where(of_mix > 0.5, "dark", "pale"),
        shade_dark_chance=of_mix,
        shade_pale_chance=1 - of_mix,
    )
    return _planned(cores)


def test_neither_row_order_nor_another_district_changes_a_districts_figures():
    materials = load_catalogue({}, "test").materials
    quay, mill = _mixed(80, 1, "Quay"), _mixed(50, 2, "Mill")
    both = _join(quay, mill)
    whole = simulate_safety_stock(both, materials, waste=0.02)
    # nor do the numbers of the mixes
    shuffled = both.assign(mix=1000 - both["mix"]).sample(frac=1, random_state=1)
    shuffled = simulate_safety_stock(shuffled, materials, waste=0.02)
    pd.testing.assert_frame_equal(whole.lines, shuffled.lines, check_exact=True)
    pd.testing.assert_frame_equal(whole.totals, shuffled.totals, check_exact=True)
    alone = simulate_safety_stock(quay, materials, waste=0.02).lines
    of_quay = whole.lines[whole.lines["district"].eq("Quay")].reset_index(drop=True)
    joint = ["enough_jointly", "joint_level"]
    pd.testing.assert_frame_equal(of_quay.drop(columns=joint), alone.drop(columns=joint), check_exact=True)


def test_all_sources_together_need_more_than_each():
    materials = load_catalogue({}, "test").materials
    total = simulate_safety_stock(_mixed(300, 1, "Quay"), materials, waste=0.03).totals.iloc[-1]
    assert total[["from_shade", "from_waste", "from_model", "without_model"]].max() < total["safety_stock"]
    assert total["without_model"] > total["from_waste"]
    assert total["from_size"] == 0


def test_a_higher_service_level_takes_more_and_another_seed_agrees_within_the_error():
    cores = _mixed(60, 3, "Quay")
    materials = load_catalogue({}, "test").materials
    lines = [simulate_safety_stock(cores, materials, service_level=level).lines for level in (0.5, 0.9, 0.95, 0.99)]
    assert (np.diff([frame["enough"] for frame in lines], axis=0) > 0).all()
    seeds = [_first(simulate_safety_stock(cores, materials, simulations=500, seed=seed)) for seed in range(30)]
    spread = np.std([line["enough"] for line in seeds], ddof=1)
    stated = np.mean([line["error"] for line in seeds])
    assert 0.6 < spread / stated < 1.6


def test_the_totals_are_given_at_each_level_and_no_cores_at_all_are_no_error():
    cores = _mixed(20, 1, "Quay")
    levels = simulate_safety_stock(cores, _SURE, waste=0.02, further_levels=(0.9, 0.99)).levels
    assert levels["level"].tolist() == [0.9] * 3 + [0.95] * 3 + [0.99] * 3
    assert levels["enough"].iloc[[2, 5, 8]].is_monotonic_increasing
    empty = simulate_safety_stock(cores.iloc[:0], _SURE)
    assert list(empty.lines.columns) == list(SAFETY_STOCK_COLUMNS)
    assert len(empty.lines) == 0


@pytest.mark.parametrize(
    "wrong", [{"service_level": 1.0}, {"service_level": 0.0}, {"waste": 1.0}, {"waste": -0.1}, {"simulations": 10}]
)
def test_settings_that_cannot_be_are_refused(wrong):
    cores = _cores(1)
    with pytest.raises(SettingsError, match=r"found .* expected"):
        simulate_safety_stock(cores, _SURE, **wrong)


def _beyond(count, source):
    cores = _cores(count, depth_mm=420.0, shade_dark_chance=0.8, shade_pale_chance=0.2)
    materials = load_catalogue({}, "test").materials
    totals = simulate_safety_stock(cores, materials, simulations=1000).totals.set_index("shade")
    return totals.loc["pale" if source == "shade" else "dark", f"from_{source}"]


def test_the_spread_of_the_model_does_not_shrink_with_the_number_of_cores():
    # ten times the cores, ten times the bags: every mix takes a second one
    assert _beyond(40, "model") == 40
    assert _beyond(400, "model") == 400


def test_what_the_shade_leaves_uncertain_grows_with_the_root_of_the_number_of_cores_alone():
    # pale bags beyond their mean of 8 and 800, none of which is planned
    few, many = _beyond(40, "shade") - 8, _beyond(4000, "shade") - 800
    assert many / few == pytest.approx(10, rel=0.2)
