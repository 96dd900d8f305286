"""Where in a table of findings those of each rule are."""

import numpy as np
import pandas as pd
import pytest

from pipeline.audit.finding_places import by_rule


@pytest.mark.parametrize("seed", range(50))
def test_every_wanted_rule_has_the_places_of_its_findings_as_read_one_after_the_other(seed):
    random = np.random.default_rng(seed)
    rules = random.choice(["grout-short", "open-too-long", "depth-missing"], random.integers(0, 9)).tolist()
    wanted = {"grout-short", "depth-missing", "never-found"}
    places = {slug: here.tolist() for slug, here in by_rule(pd.Series(rules, dtype="str"), wanted)}
    assert places == {slug: [at for at, one in enumerate(rules) if one == slug] for slug in set(rules) & wanted}
