"""The simulated safety stock against exact distributions, and how each source of uncertainty behaves with many cores.

Source: the number of successes of unlike trials (Poisson's binomial distribution) is the convolution of its trials;
worked out here trial by trial. Chi-square: Pearson's test.
"""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chisquare

from pipeline.order.safety_stock.bags import simulate_district
from pipeline.order.safety_stock.simulate import simulate_safety_stock
from pipeline.order.safety_stock.volume_model import bags_of_terms, draw_model, likeliest_model, terms_of
from pipeline.programme.catalogue import load_catalogue

_RANGES = {"geometry": ["kerf", "pilot_hole", "gap", "bed_fill"], "grout": ["wet_density", "overfill"]}


def _catalogue(*, is_sure):
    catalogue = load_catalogue({}, "test")
    if not is_sure:
        return catalogue
    unit = {"bed_fill": "%", "overfill": "%", "wet_density": "kg/L"}
    written = {}
    for table, names in _RANGES.items():
        written[table] = {}
        for name in names:
            value = getattr(getattr(catalogue.materials, table), name).value * (100 if unit.get(name) == "%" else 1)
            text = f"{value} {unit.get(name, 'mm')}"
            written[table][name] = {"value": text, "low": text, "high": text, "source": "test"}
    return load_catalogue({"materials": written}, "test")


_SURE, _RANGED = _catalogue(is_sure=True).materials, _catalogue(is_sure=False).materials


def _distribution(chances):
    mass = np.ones(1)
    for chance in chances:
        mass = np.convolve(mass, [1 - chance, chance])
    return mass


def _cores(dark):
    frame = pd.DataFrame(
        {"shade_dark_chance": dark, "shade_pale_chance": 1 - dark, "hole_mm": 457.2, "depth_mm": 300.0}
    )
    return frame.assign(district="Quay", bedding="pea gravel", shade=np.where(dark > 0.5, "dark", "pale"))


@pytest.mark.parametrize("count", [5, 60, 400])
def test_with_only_the_shade_uncertain_quantiles_are_those_of_the_exact_distribution(count):
    dark = np.random.default_rng(count).beta(0.5, 0.5, count)
    mass = _distribution(dark)
    for level in (0.5, 0.9, 0.95, 0.99):
        lines = simulate_safety_stock(_cores(dark), _cores(dark), _SURE, service_level=level, simulations=40_000).lines
        line = lines.set_index("shade").loc["dark"]
        need = line["expected"] / dark.sum()
        found = round(line["enough"] / need)
        below, at = np.cumsum(mass)[found - 1] if found else 0.0, np.cumsum(mass)[found]
        # the exact quantile, or the next where the level is within four standard errors of a step
        slack = 4 * np.sqrt(level * (1 - level) / 40_000)
        assert below - slack <= level <= at + slack
        assert line["enough"] == pytest.approx(found * need)


def test_simulated_counts_pass_a_chi_square_test_for_either_shade():
    rng = np.random.default_rng(1)
    dark = rng.uniform(0, 1, 60)
    size = (np.full(60, 457.2), np.full(60, 300.0), np.full(60, 10.0))
    drawn = bags_of_terms(draw_model(_SURE, 20_000, rng), _SURE, "hole")
    likeliest = bags_of_terms(likeliest_model(_SURE), _SURE, "hole")[0]
    need = (terms_of(*size) @ likeliest)[0]
    bags = simulate_district(np.column_stack([dark, 1 - dark]), size, (np.empty(0), np.empty(0)), drawn, likeliest, rng)
    for number, chances in enumerate((dark, 1 - dark)):
        for source in ("shade", "all"):
            counts = np.bincount((bags.simulated[source][:, number] / need).round().astype(int), minlength=61)
            expected = _distribution(chances) * 20_000
            common = expected >= 10
            seen = np.append(counts[common], counts[~common].sum())
            wanted = np.append(expected[common], expected[~common].sum())
            assert chisquare(seen, wanted).pvalue > 1e-3
    # every core takes one of the two shades
    together = bags.simulated["shade"].sum(axis=1)
    assert together == pytest.approx(60 * need)


def _relative(count, source):
    dark = np.full(count, 0.8)
    line = (
        simulate_safety_stock(_cores(dark), _cores(dark), _RANGED, simulations=20_000)
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
