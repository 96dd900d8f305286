"""The demo that the tests of the report look at."""

import pytest

from tests.publish.report.pages import undecided


@pytest.fixture(scope="session")
def demo(demo):
    """The demo without its decisions and owners."""
    return undecided(demo)
