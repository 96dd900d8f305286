"""The version of the installed package."""

from importlib.metadata import PackageNotFoundError, version
from typing import Final

__all__ = ["__version__"]


def _installed() -> str:
    try:
        return version("kerfbook")
    except PackageNotFoundError:  # a checkout that was never installed
        return "0+unknown"


__version__: Final = _installed()
