"""The simulated safety stock against exact distributions.

Source: the number of successes of unlike trials (Poisson's binomial distribution) is the convolution of its trials;
worked out here trial by trial. Chi-square: Pearson's test.
"""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chisquare

from pipeline.order.safety_stock.mixes import Mixes, mixed_bags
from pipeline.order.safety_stock.simulate import simulate_safety_stock
from pipeline.order.safety_stock.volume_model import bags_of_terms, draw_model, likeliest_model, terms_of
from pipeline.programme.catalogue import load_catalogue

_RANGES = {"geometry": ["kerf", "pilot_hole", "gap", "bed_fill"], "grout": ["wet_density", "overfill"]}
_UNITS = {"bed_fill": "%", "overfill": "%", "wet_density": "kg/L"}


def _without_ranges():
    """The shipped materials, every uncertain value as if it were exact."""
    shipped = load_catalogue({}, "test").materials
    written = {table: {} for table in _RANGES}
    for table, names in _RANGES.items():
        for name in names:
            value = getattr(getattr(shipped, table), name).value * (100 if _UNITS.get(name) == "%" else 1)
            text = f"{value} {_UNITS.get(name, 'mm')}"
            written[table][name] = {"value": text, "low": text, "high": text, "source": "test"}
    return load_catalogue({"materials": written}, "test").materials


_SURE = _without_ranges()


def _distribution(chances):
    mass = np.ones(1)
    for chance in chances:
        mass = np.convolve(mass, [1 - chance, chance])
    return mass


def _cores(dark):
    frame = pd.DataFrame(
        {"shade_dark_chance": dark, "shade_pale_chance": 1 - dark, "hole_mm": 457.2, "depth_mm": 300.0}
    )
    return frame.assign(
        district="Quay",
        bedding="pea gravel",
        shade=np.where(dark > 0.5, "dark", "pale"),
        mix=range(len(dark)),
        bags=1.0,
    )


@pytest.mark.parametrize("count", [5, 60])
def test_with_only_the_shade_uncertain_quantiles_are_those_of_the_exact_distribution(count):
    dark = np.random.default_rng(count).beta(0.5, 0.5, count)
    mass = _distribution(dark)
    levels = (0.5, 0.9, 0.95, 0.99)
    totals = simulate_safety_stock(_cores(dark), _SURE, further_levels=levels, simulations=40_000).levels
    for level in levels:
        # a mix of its own for each core, of one bag
        found = round(totals.set_index(["shade", "level"]).loc[("dark", level), "enough"])
        below, at = np.cumsum(mass)[found - 1] if found else 0.0, np.cumsum(mass)[found]
        # the exact quantile, or the next where the level is within four standard errors of a step
        slack = 4 * np.sqrt(level * (1 - level) / 40_000)
        assert below - slack <= level <= at + slack


def test_simulated_counts_pass_a_chi_square_test_for_either_shade():
    rng = np.random.default_rng(1)
    dark = rng.uniform(0, 1, 60)
    terms = terms_of(np.full(60, 457.2), np.full(60, 300.0), np.full(60, 10.0))
    drawn = bags_of_terms(draw_model(_SURE, 20_000, rng), _SURE, "hole")
    likeliest = bags_of_terms(likeliest_model(_SURE), _SURE, "hole")[0]
    mixes = Mixes(terms, np.column_stack([dark, 1 - dark]), np.arange(60), (dark < 0.5).astype(int))
    bags = mixed_bags(mixes, drawn, likeliest, 1.0, rng)
    for number, chances in enumerate((dark, 1 - dark)):
        for source in ("shade", "all"):
            counts = np.bincount(bags[source][:, number].round().astype(int), minlength=61)
            expected = _distribution(chances) * 20_000
            common = expected >= 10
            seen = np.append(counts[common], counts[~common].sum())
            wanted = np.append(expected[common], expected[~common].sum())
            assert chisquare(seen, wanted).pvalue > 1e-3
    # every core takes a bag of one of the two shades
    assert (bags["shade"].sum(axis=1) == 60).all()
