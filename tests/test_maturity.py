"""The time before traffic, each worked by hand."""

import numpy as np
import pandas as pd
import pytest

from pipeline.maturity import return_to_service_min


@pytest.mark.parametrize(
    ("air_c", "minutes"),
    [(21.0, 30.0), (30.0, 30.0), (10.5, 60.0), (7.0, 90.0), (0.0, np.inf), (-3.0, np.inf)],
)
def test_the_time_before_traffic_grows_as_the_air_gets_colder(air_c, minutes):
    """30 minutes at 21 degC: maturity of 630 degree-minutes above 0 degC, reached in 630 / T minutes."""
    assert return_to_service_min(pd.Series([air_c]), 30.0, 21.0, 0.0).tolist() == [pytest.approx(minutes)]
