"""The bags of the survey round: unknown sizes drawn from known cores, each core with a mix of its own."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from pipeline.order.safety_stock.survey import survey_bags
from pipeline.order.safety_stock.volume_model import TERMS
from pipeline.programme.catalogue import load_catalogue

_MATERIALS = load_catalogue({}, "test").materials
# a core needs one bag for each metre of depth
_PER_DEPTH = np.eye(1, TERMS) / 1000


def _cores(*depths_mm, district="Quay", shade="dark", surface="asphalt"):
    frame = pd.DataFrame({"depth_mm": np.array(depths_mm, dtype=float), "hole_mm": 457.2, "bedding": "pea gravel"})
    texts = {"district": district, "shade": shade, "surface": surface}
    return frame.assign(**{name: pd.Series([text] * len(frame), dtype="str") for name, text in texts.items()})


def _survey(cores, history, waste=0.0, level=0.95, simulations=10_000):
    drawn = np.tile(_PER_DEPTH, (simulations, 1))
    return survey_bags(
        cores, history, _MATERIALS, "hole", drawn, smallest=1.0, waste=waste, service_level=level, seed=1
    )


def test_a_missing_depth_is_that_of_a_known_core_and_each_core_is_rounded_up():
    # three in four of 0.3 m (one bag), one in four of 1.2 m (two bags)
    history = _cores(*[300] * 30, *[1200] * 10)
    table = _survey(_cores(*[np.nan] * 20), history)
    line, total = table.iloc[0], table.iloc[1]
    assert (line["district"], line["shade"], line["cores"], line["known"], line["drawn_from"]) == (
        "Quay", "dark", 20, 40, "district",
    )  # fmt: skip
    assert line["expected"] == pytest.approx(20 * (0.75 + 0.25 * 2), abs=0.1)
    assert line["enough"] == 20 + binom(20, 0.25).ppf(0.95)
    assert total["shade"] is pd.NA or pd.isna(total["shade"])
    assert (total["cores"], total["enough"]) == (20, line["enough"])


def test_a_core_of_unknown_surface_takes_a_shade_by_the_shares_among_the_known_cores():
    history = pd.concat([_cores(*[300] * 30), _cores(*[300] * 10, shade="pale")], ignore_index=True)
    table = _survey(_cores(*[300] * 8, shade=None, surface="unknown"), history).set_index("shade")
    assert table.loc[["dark", "pale"], "cores"].tolist() == [6, 2]
    assert table.loc["dark", "enough"] == binom(8, 0.75).ppf(0.95)
    # sizes are known: nothing is drawn from other cores
    assert table["drawn_from"].isna().all()


def test_a_shade_that_only_some_cores_have_is_no_chance_of_the_others():
    """All known cores are dark: so is one of unknown surface, but for the core that is pale; and nobody takes both."""
    cores = pd.concat([_cores(300, shade=None, surface="unknown"), _cores(300, shade="pale")], ignore_index=True)
    table = _survey(cores, _cores(*[300] * 30)).set_index("shade")
    assert table.loc[["dark", "pale"], "cores"].tolist() == [1, 1]
    both = pd.concat([_cores(*[300] * 30), _cores(*[300] * 30, shade="pale")], ignore_index=True)
    assert _survey(_cores(300), both)["shade"].fillna("").tolist() == ["dark", ""]


def test_a_surface_that_takes_no_core_among_the_known_ones_needs_nothing_in_its_share():
    history = pd.concat([_cores(*[300] * 30), _cores(*[300] * 10, shade=None)], ignore_index=True)
    table = _survey(_cores(*[300] * 8, shade=None, surface="unknown"), history)
    assert table.iloc[-1]["cores"] == 6


def test_without_known_sizes_cores_cannot_be_counted():
    assert _survey(_cores(np.nan), _cores()).empty
    assert _survey(_cores(), _cores(300)).empty


def test_lost_bags_come_on_top():
    table = _survey(_cores(*[300] * 50), _cores(300), waste=0.2)
    # 50 / (1 - 0.2)
    assert table.iloc[-1]["expected"] == pytest.approx(62.5, rel=0.01)


def test_neither_row_order_nor_another_district_changes_a_districts_figures():
    history = pd.concat([_cores(*[300] * 30, *[1200] * 10), _cores(*[500] * 30, district="Mill")], ignore_index=True)
    cores = pd.concat([_cores(*[np.nan] * 9), _cores(*[np.nan] * 7, district="Mill")], ignore_index=True)
    table = _survey(cores, history)
    shuffled = _survey(cores.sample(frac=1, random_state=1), history.sample(frac=1, random_state=2))
    pd.testing.assert_frame_equal(table, shuffled, check_exact=True)
    alone = _survey(cores[cores["district"].eq("Quay")], history)
    assert table[table["district"].eq("Quay")]["enough"].tolist() == alone["enough"].tolist()[:1]
