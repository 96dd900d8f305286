"""What the tests of the sample's two commands share."""

import pandas as pd

__all__ = ["fill", "read_sheet", "refused"]


def read_sheet(folder):
    return pd.read_csv(folder / "sample.csv", dtype=str, keep_default_na=False)


def fill(folder, results, file="filled.csv", **how):
    sheet = read_sheet(folder)
    sheet["result"] = results(sheet)
    sheet.to_csv(folder / file, index=False, **how)
    return folder / file


def refused(answer, code, *words):
    found, _, said = answer
    assert found == code, said
    assert said.startswith("Error: ")
    assert "Traceback" not in said
    for word in words:
        assert word in said
