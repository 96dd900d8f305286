"""The pages are opened in Debian's Chromium; where it is not installed the tests say so, and on CI they fail."""

import os
from pathlib import Path

import pytest

from tests.browser import firefox
from tests.browser.browser import CHROMIUM, stop


@pytest.fixture(autouse=True)
def _chromium() -> None:
    if not Path(CHROMIUM).exists() and not os.environ.get("CI"):
        pytest.skip(f"{CHROMIUM} is not installed: apt-get install chromium")


@pytest.fixture(scope="session", autouse=True)
def _one_of_each_browser():
    yield
    stop()
    firefox.stop()
