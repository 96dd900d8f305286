"""A register that lacks what an audit needs is refused, with the setting that would mend it."""

import pandas as pd
import pytest

from tests.spoiled.town import HEADER, ROW, use_register


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEADER, ["register.csv", "a header and no rows"]),
        ("\ufeff" + HEADER, ["a header and no rows"]),
        (ROW * 2, ["register.csv", "no column for `core_id`", "cores.columns.core_id"]),
        (HEADER.replace("depth", "deep") + ROW, ["no column for `depth`", "diameter, deep", "cores.columns.depth"]),
        (HEADER.replace(",x,y", ",a,b") + ROW, ["for the position", "cores.x"]),
        (
            HEADER + ROW.replace(" mm", ""),
            ["'diameter'", "bare numbers such as '450'", "cores.units"],
        ),
        (HEADER + '"A1' + ROW * 4, ["quotation mark"]),
        # another town, 100 km away
        (HEADER + ROW.replace("4963002", "5063002"), ["no core lies near the roads", "cores.crs"]),
        (HEADER + ROW.replace("478100,4963002", ","), ["no core lies near the roads", "1 missing"]),
        (HEADER + ROW.replace("478100,4963002", "east,north"), ["no core lies near the roads", "1 unreadable"]),
        (HEADER + ROW.replace("478100,4963002", "0,0"), ["no core lies near the roads", "1 zero"]),
    ],
)
def test_a_register_that_lacks_what_is_needed_is_refused(town, text, words):
    use_register(town, text)
    town.refuses(3, *words)


def test_a_register_whose_dates_could_be_read_either_way_is_refused(town):
    keys = 'crs = "EPSG:32617"\ncolumns = { opened_on = "cut" }'
    use_register(town, HEADER + ROW.replace("2026-09-01", "01/09/2026"), keys)
    town.refuses(3, "'cut'", "'01/09/2026'", "cores.day_first = true or false")


def test_a_table_without_a_declared_crs_is_refused(town):
    use_register(town, HEADER + ROW, "")
    town.refuses(3, "register.csv", "cores.crs")


def test_a_workbook_without_rows_or_without_the_sheet_is_refused(town):
    path = town.use("cores", "register.xlsx", 'crs = "EPSG:32617"')
    pd.DataFrame(columns=["core_id", "x", "y", "diameter", "depth"]).to_excel(path, engine="xlsxwriter", index=False)
    town.refuses(3, "register.xlsx", "a header and no rows")
    town.change('crs = "EPSG:32617"', 'crs = "EPSG:32617"\nlayer = "Cores 2026"')
    town.refuses(3, "no sheet 'Cores 2026'", "Sheet1")


def test_a_condition_on_an_unknown_column_of_a_table_is_refused_with_its_columns(town):
    use_register(town, HEADER + ROW, 'crs = "EPSG:32617"\nwhere = "no_such_column = 1"')
    town.refuses(2, "cores.where", "no_such_column", "core_id, x, y, diameter, depth, cut")
