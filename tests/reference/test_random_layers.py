"""Random towns, with ties and without: segments, surfaces and districts agree with DuckDB's spatial joins.

Source: the pinned packages duckdb and duckdb-extension-spatial, which share no code with ours but GEOS.
"""

import pytest
from hypothesis import given, settings

from tests.metamorphic.by_duckdb import agree, connect
from tests.metamorphic.towns import towns


@pytest.fixture(scope="module")
def spatial():
    with connect() as connection:
        yield connection


@settings(max_examples=15, deadline=None)
@given(town=towns())
def test_random_layers_agree_with_the_joins_of_a_database(spatial, town):
    agree(spatial, town)
