"""Safety stock: each source of uncertainty alone against a distribution that can be written down, and the laws."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, nbinom, norm, triang

from pipeline.errors import SettingsError
from pipeline.order.safety_stock.shades_and_sizes import chances_of, mean_terms
from pipeline.order.safety_stock.simulate import SAFETY_STOCK_COLUMNS, _quantile, simulate_safety_stock
from pipeline.order.safety_stock.volume_model import Calibrated, bags_of_terms, draw_model, likeliest_model, terms_of
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


def _cores(count, district="Quay", shade="dark", hole_mm=457.2, depth_mm=304.8, **columns):
    frame = pd.DataFrame({"hole_mm": [float(hole_mm)] * count, "depth_mm": [float(depth_mm)] * count})
    frame = frame.assign(bedding="pea gravel")
    for name, value in {"district": district, "shade": shade}.items():
        frame[name] = pd.Series([value] * count, dtype="str")
    return frame.assign(**columns)


def _need(cores, catalogue, hole=None):
    return quantify(cores, cores["hole_mm"] if hole is None else hole, cores["depth_mm"], catalogue)["bags"]


def _first(found):
    return found.lines.iloc[0]


@pytest.mark.parametrize("fill", ["0 %", "60 %"])
def test_what_is_expected_is_what_the_cores_need(fill):
    materials = _materials(bed_fill=(fill, fill, fill))
    catalogue = load_catalogue({"materials": {"geometry": {"bed_fill": fill}}}, "test")
    cores = pd.concat([_cores(2), _cores(3, hole_mm=600, depth_mm=150), _cores(1, shade="pale")], ignore_index=True)
    needs = _need(cores, catalogue).groupby(cores["shade"]).sum()
    lines = simulate_safety_stock(cores, cores, materials).lines.set_index("shade")
    assert lines["expected"].to_dict() == pytest.approx(needs.to_dict())
    # nothing is uncertain, so what is expected is enough
    assert lines["enough"].to_dict() == pytest.approx(needs.to_dict())
    assert lines["cores"].to_dict() == {"dark": 5, "pale": 1}
    assert lines["error"].to_list() == pytest.approx([0, 0])


def test_a_hole_that_was_written_as_the_core_widens_with_the_kerf():
    # the plug is 457.2 mm; with a kerf of 5 mm the hole is 467.2 mm, with the catalogue's 9 mm it is 475.2 mm
    written = _cores(1, hole_mm=457.2 + 18)
    calibrated = Calibrated(5.0, 12.7, ((0, 0), (0, 0)))
    catalogue = load_catalogue({"materials": {"geometry": {"kerf": "5 mm"}}}, "test")
    line = _first(simulate_safety_stock(written, written, _SURE, "core", calibrated=calibrated))
    assert line["expected"] == pytest.approx(_need(written, catalogue, pd.Series([467.2])).iloc[0])
    line = _first(simulate_safety_stock(written, written, _SURE, "hole", calibrated=calibrated))
    assert line["expected"] == pytest.approx(_need(written, catalogue, pd.Series([475.2])).iloc[0])


def test_the_model_is_drawn_once_for_all_so_districts_add_up():
    # overfill alone is uncertain, triangular 0, 20, 30 %: the quantity follows it in a straight line
    materials = _materials(overfill=("0 %", "20 %", "30 %"))
    cores = pd.concat([_cores(40), _cores(60, district="Mill")], ignore_index=True)
    found = simulate_safety_stock(cores, cores, materials, simulations=20_000)
    overfill = triang(2 / 3, 0, 0.3).ppf(0.95)
    expected = found.lines["expected"].to_numpy()
    assert found.lines["enough"].to_numpy() == pytest.approx(expected / 1.2 * (1 + overfill), rel=2e-3)
    total = found.totals.iloc[-1]
    assert total["enough"] == pytest.approx(found.lines["enough"].sum())
    assert total["from_model"] == pytest.approx(total["safety_stock"])
    assert total[["from_shade", "from_size", "from_waste"]].tolist() == pytest.approx([0, 0, 0], abs=1e-9)
    # mean of a triangle: a third of the sum of its corners
    assert total["mean"] == pytest.approx(expected.sum() / 1.2 * (1 + 0.5 / 3), rel=2e-3)


def test_what_was_calibrated_takes_the_place_of_the_ranges():
    # only the bed is uncertain, and the need follows it in a straight line: normal; pi/4 D^2 = 164,173 mm2, so 2 mm
    # of bed are 0.3283 L, x 1.2 x 2.15 / 22 = 0.03851 bags a core
    materials = load_catalogue({}, "test").materials
    calibrated = Calibrated(8.0, 15.0, ((0, 0), (0, 4.0)))
    cores = _cores(10)
    line = _first(simulate_safety_stock(cores, cores, materials, calibrated=calibrated, simulations=20_000))
    assert line["safety_stock"] == pytest.approx(10 * 0.03851 * norm.ppf(0.95), rel=0.02)


def test_kerf_and_bed_that_offset_each_other_leave_less_to_hold():
    cores = _cores(10)
    together, against = (
        _first(simulate_safety_stock(cores, cores, _SURE, calibrated=Calibrated(9.0, 12.7, ((1.0, both), (both, 9.0)))))
        for both in (2.9, -2.9)
    )
    assert against["safety_stock"] < 0.2 * together["safety_stock"]


def test_each_bag_is_lost_with_the_stated_chance():
    # 50 bags that hold: the lost ones are negative binomial
    cores = _cores(4)
    factor = pd.Series({("Quay", "dark"): 50 / _need(cores, load_catalogue({}, "test")).sum()})
    for level in (0.5, 0.95, 0.99):
        line = _first(
            simulate_safety_stock(
                cores, cores, _SURE, waste=0.1, service_level=level, mixed_per_needed=factor, simulations=20_000
            )
        )
        assert line["expected"] == pytest.approx(50)
        assert line["enough"] == pytest.approx(50 + nbinom(50, 0.9).ppf(level), abs=0.1)
        assert line["from_waste"] == pytest.approx(line["safety_stock"], abs=1)
    # 50 / (1 - 0.1)
    assert line["mean"] == pytest.approx(50 / 0.9, rel=5e-3)


def _history(depths, district="Quay"):
    return pd.concat([_cores(1, district=district, depth_mm=depth) for depth in depths], ignore_index=True)


def test_a_depth_that_is_not_known_is_drawn_from_its_own_district():
    # 30 depths of 100 mm and 10 of 300 mm; the other district's are all 500 mm
    history = pd.concat([_history([100] * 30 + [300] * 10), _history([500] * 40, "Mill")], ignore_index=True)
    cores = _cores(50, depth_mm=np.nan)
    found = simulate_safety_stock(cores, history, _SURE, simulations=20_000)
    assert found.sizes.to_numpy().tolist() == [["Quay", 50, 40, "district"]]
    thin, thick = (_need(_cores(1, depth_mm=depth), load_catalogue({}, "test")).iloc[0] for depth in (100, 300))
    line = _first(found)
    assert line["expected"] == pytest.approx(50 * (0.75 * thin + 0.25 * thick))
    assert line["enough"] == pytest.approx(50 * thin + binom(50, 0.25).ppf(0.95) * (thick - thin))
    assert line["from_size"] == pytest.approx(line["safety_stock"])


def test_a_district_with_few_known_sizes_draws_from_the_programme_and_none_at_all_leaves_out():
    history = pd.concat([_history([100] * 19), _history([300] * 21, "Mill")], ignore_index=True)
    cores = _cores(5, hole_mm=np.nan, depth_mm=np.nan)
    assert simulate_safety_stock(cores, history, _SURE).sizes["drawn_from"].tolist() == ["programme"]
    both = pd.concat([cores, _cores(1)], ignore_index=True)
    nothing = simulate_safety_stock(both, history.iloc[:0], _SURE)
    assert nothing.sizes.to_numpy().tolist() == [["Quay", 5, 0, "none"]]
    assert _first(nothing)["cores"] == 1


def test_a_known_part_of_a_size_is_kept():
    pool = (np.array([300.0, 500.0, 500.0]), np.array([100.0, 200.0, 300.0]))
    wide, deep = np.array([457.2, np.nan, np.nan, 600.0]), np.array([np.nan, 150.0, np.nan, 250.0])
    bed = np.array([10.0, 10.0, 12.0, 10.0])
    drawn = [
        [
            terms_of(np.array(w if np.isnan(one) else one), np.array(d if np.isnan(two) else two), np.array(hollow))
            for w, d in zip(*pool)
        ]
        for one, two, hollow in zip(wide, deep, bed)
    ]
    assert mean_terms(wide, deep, bed, pool) == pytest.approx(np.mean(drawn, axis=1))


def test_chances_that_were_not_weighed_leave_the_shade_certain():
    cores = _cores(4).assign(
        shade=pd.Series(["dark", "dark", "pale", None], dtype="str"),
        shade_dark_chance=[0.7, np.nan, np.nan, 0.3],
        shade_pale_chance=[0.3, np.nan, np.nan, 0.0],
    )
    assert chances_of(cores).to_numpy().tolist() == [[0.7, 0.3], [1, 0], [0, 1], [0.3, 0]]
    assert chances_of(cores[["shade"]]).to_numpy().tolist() == [[1, 0], [1, 0], [0, 1], [0, 0]]


def _mixed(count, seed, district):
    rng = np.random.default_rng(seed)
    cores = _cores(count, district=district)
    dark = rng.choice([0, 0.2, 0.9, 1], count)
    return cores.assign(
        hole_mm=np.where(rng.random(count) < 0.2, np.nan, rng.choice([450.0, 600.0], count)),
        depth_mm=np.where(rng.random(count) < 0.2, np.nan, rng.uniform(100, 400, count)),
        shade_dark_chance=dark,
        shade_pale_chance=1 - dark,
    )


def test_neither_row_order_nor_another_district_changes_a_districts_figures():
    materials = load_catalogue({}, "test").materials
    quay, mill = _mixed(80, 1, "Quay"), _mixed(50, 2, "Mill").set_axis(range(80, 130))
    both = pd.concat([quay, mill])
    whole = simulate_safety_stock(both, both, materials, waste=0.02)
    shuffled = simulate_safety_stock(both.sample(frac=1, random_state=1), both.sample(frac=1, random_state=2), materials, waste=0.02)  # fmt: skip
    pd.testing.assert_frame_equal(whole.lines, shuffled.lines, check_exact=True)
    pd.testing.assert_frame_equal(whole.totals, shuffled.totals, check_exact=True)
    alone = simulate_safety_stock(quay, quay, materials, waste=0.02).lines
    of_quay = whole.lines[whole.lines["district"].eq("Quay")].reset_index(drop=True)
    pd.testing.assert_frame_equal(of_quay, alone, check_exact=True)


def test_all_sources_together_need_more_than_each_and_less_than_their_sum():
    materials = load_catalogue({}, "test").materials
    cores = _mixed(300, 1, "Quay")
    for _, line in simulate_safety_stock(cores, cores, materials, waste=0.03, simulations=5000).lines.iterrows():
        parts = line[["from_shade", "from_size", "from_waste", "from_model"]]
        assert parts.max() < line["safety_stock"] < parts.sum()


def test_a_higher_service_level_takes_more_and_another_seed_agrees_within_the_error():
    cores = _mixed(200, 3, "Quay")
    materials = load_catalogue({}, "test").materials
    lines = [
        simulate_safety_stock(cores, cores, materials, service_level=level).lines for level in (0.5, 0.9, 0.95, 0.99)
    ]
    assert (np.diff([frame["enough"] for frame in lines], axis=0) > 0).all()
    seeds = [_first(simulate_safety_stock(cores, cores, materials, seed=seed)) for seed in range(30)]
    spread = np.std([line["enough"] for line in seeds], ddof=1)
    stated = np.mean([line["error"] for line in seeds])
    assert 0.7 < spread / stated < 1.4


def test_a_core_that_perhaps_takes_none_counts_by_its_chance_and_no_cores_at_all_are_no_error():
    cores = _cores(10, shade=None).assign(shade_dark_chance=0.3)
    line = _first(simulate_safety_stock(cores, cores, _SURE))
    need = _need(_cores(1), load_catalogue({}, "test")).iloc[0]
    assert (line["cores"], line["expected"]) == pytest.approx((3, 3 * need))
    empty = simulate_safety_stock(cores.iloc[:0], cores, _SURE)
    assert list(empty.lines.columns) == list(SAFETY_STOCK_COLUMNS)
    assert len(empty.lines) == 0


@pytest.mark.parametrize(("share", "least"), [(0.9, 9), (0.95, 10), (0.5, 5), (0.01, 1), (0.7, 7)])
def test_enough_is_the_least_number_that_the_stated_share_does_not_exceed(share, least):
    assert _quantile(np.arange(1.0, 11.0), share) == least


@pytest.mark.parametrize(
    "wrong", [{"service_level": 1.0}, {"service_level": 0.0}, {"waste": 1.0}, {"waste": -0.1}, {"simulations": 10}]
)
def test_settings_that_cannot_be_are_refused(wrong):
    cores = _cores(1)
    with pytest.raises(SettingsError, match=r"found .* expected"):
        simulate_safety_stock(cores, cores, _SURE, **wrong)


def test_draws_stay_in_their_ranges_and_a_range_of_nothing_is_its_value():
    materials = load_catalogue({}, "test").materials
    model = draw_model(materials, 1000, np.random.default_rng(1))
    assert 5 <= model.kerf_mm.min() < 6 < 9.5 < model.kerf_mm.max() <= 10
    assert 0 <= model.bed_fill.min() < 0.1 < 0.9 < model.bed_fill.max() <= 1
    sure = draw_model(_SURE, 10, np.random.default_rng(1))
    assert bags_of_terms(sure, _SURE, "core") == pytest.approx(
        np.repeat(bags_of_terms(likeliest_model(_SURE), _SURE, "core"), 10, axis=0)
    )


# every range as it is shipped
_WIDE = load_catalogue({}, "test").materials


def _even(count):
    return _cores(count, depth_mm=300.0, shade_dark_chance=0.8, shade_pale_chance=0.2)


def _relative(count, source):
    line = (
        simulate_safety_stock(_even(count), _even(count), _WIDE, simulations=20_000)
        .lines.set_index("shade")
        .loc["dark"]
    )
    return line[f"from_{source}"] / line["expected"]


def test_the_spread_of_the_model_does_not_shrink_with_the_number_of_cores():
    assert _relative(10_000, "model") == pytest.approx(_relative(10, "model"), rel=1e-6)


def test_what_the_shade_leaves_uncertain_shrinks_with_the_root_of_the_number_of_cores():
    # a hundred times the cores, a tenth of the spread; not exactly, because bags are counted
    assert _relative(100, "shade") / _relative(10_000, "shade") == pytest.approx(10, rel=0.15)


def test_a_safety_stock_that_let_the_model_average_out_would_be_far_too_small():
    # 10,000 cores: the shades leave less than 1 % uncertain, the model more than 10 %
    assert _relative(10_000, "shade") < 0.01
    assert _relative(10_000, "model") > 0.1
