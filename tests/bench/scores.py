"""Scores of stated confidences against the truth."""

import numpy as np
import numpy.typing as npt
import pandas as pd


def reliability(stated: npt.NDArray[np.float64], right: npt.NDArray[np.bool_]) -> pd.DataFrame:
    """Return by decile of the confidence: ``cores``, and the shares ``stated`` and ``right``, 0 to 1."""
    table = pd.DataFrame({"decile": np.minimum((stated * 10).astype(int), 9), "stated": stated, "right": right})
    return table.groupby("decile").agg(cores=("stated", "size"), stated=("stated", "mean"), right=("right", "mean"))


def calibration_error(stated: npt.NDArray[np.float64], right: npt.NDArray[np.bool_]) -> float:
    """Return by how many points the stated and the right share of a decile differ, on the mean of the cores."""
    table = reliability(stated, right)
    return float(100 * np.average((table["stated"] - table["right"]).abs(), weights=table["cores"]))


def brier(stated: npt.NDArray[np.float64], right: npt.NDArray[np.bool_]) -> float:
    """Return the mean squared difference of what was stated and what came true, 0 to 1."""
    return float(np.mean((stated - right) ** 2))
