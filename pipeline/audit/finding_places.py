"""Where in a table of findings those of each rule are."""

from collections.abc import Container, Iterator

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["by_rule"]


def by_rule(rules: pd.Series, wanted: Container[str]) -> Iterator[tuple[str, npt.NDArray[np.intp]]]:
    """Yield each rule that N findings have and that is wanted, with the places of its findings among the N."""
    codes, slugs = pd.factorize(rules)
    order = np.argsort(codes, kind="stable")
    ends = np.cumsum(np.bincount(codes[codes >= 0], minlength=len(slugs)))
    for slug, here in zip(slugs, np.split(order[int((codes < 0).sum()) :], ends[:-1]), strict=False):
        if slug in wanted:
            yield str(slug), here
