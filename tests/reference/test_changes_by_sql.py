"""The demo against a register changed by hand, compared a second time by plain SQL over the files of both runs.

Source: none outside the project; a second method, in DuckDB, that shares no code with the comparison, and the list of
what was changed in the register.
"""

import duckdb
import pandas as pd
import pytest

from pipeline.commands.compare import compare_runs

# matched by id without case and spaces; where an id is missing or repeated, by position, the n-th row with the n-th
_SQL = """
CREATE VIEW {name} AS
WITH read AS (
    SELECT *, coalesce(regexp_replace(lower(core_id), '\\s', '', 'g'), '') AS plain,
        status = 'reinstated' OR (status = 'flagged' AND coalesce(trim(lower(done)), '') NOT IN ('', '-', 'n/a', 'unknown')) AS back
    FROM read_parquet('{path}')
)
SELECT *, count(*) OVER (PARTITION BY plain) AS times,
    row_number() OVER (PARTITION BY plain, lon, lat ORDER BY "row") AS nth
FROM read
"""
_MATCH = """
CREATE VIEW often AS
    SELECT '' AS plain UNION SELECT plain FROM b WHERE times > 1 UNION SELECT plain FROM a WHERE times > 1;
CREATE VIEW pair AS
    SELECT b AS was, a AS now FROM b JOIN a USING (plain) WHERE plain NOT IN (FROM often)
    UNION ALL
    SELECT b, a FROM b JOIN a USING (plain, lon, lat, nth) WHERE plain IN (FROM often);
"""
_COUNTS = {
    "opened": "SELECT count(*) FROM a WHERE plain <> '' AND plain NOT IN (SELECT plain FROM b)",
    "removed": "SELECT count(*) FROM b WHERE plain <> '' AND plain NOT IN (SELECT plain FROM a)",
    "closed": "SELECT count(*) FROM pair WHERE NOT was.back AND now.back",
    "reopened": "SELECT count(*) FROM pair WHERE was.back AND NOT now.back",
    "newly flagged": "SELECT count(*) FROM pair WHERE was.status <> 'flagged' AND now.status = 'flagged'",
    "cleared": "SELECT count(*) FROM pair WHERE was.status = 'flagged' AND now.status <> 'flagged'",
    "new finding": """SELECT count(*) FROM pair WHERE len(list_filter(string_split(now.findings, ';'),
        lambda slug: slug <> '' AND NOT list_contains(string_split(was.findings, ';'), slug))) > 0""",
    "cleared finding": """SELECT count(*) FROM pair WHERE len(list_filter(string_split(was.findings, ';'),
        lambda slug: slug <> '' AND NOT list_contains(string_split(now.findings, ';'), slug))) > 0""",
    "segment changed": "SELECT count(*) FROM pair WHERE was.segment_id IS DISTINCT FROM now.segment_id",
    "street changed": "SELECT count(*) FROM pair WHERE was.street IS DISTINCT FROM now.street",
    "surface changed": "SELECT count(*) FROM pair WHERE was.surface IS DISTINCT FROM now.surface",
    "district changed": "SELECT count(*) FROM pair WHERE was.district IS DISTINCT FROM now.district",
    "shade changed": "SELECT count(*) FROM pair WHERE was.shade IS DISTINCT FROM now.shade",
    # on a sphere of 6371 km: a core of this register moves by 20 m or more, or not at all
    "moved": """SELECT count(*) FROM pair WHERE 6371000 * acos(least(1,
        sin(radians(was.lat)) * sin(radians(now.lat)) + cos(radians(was.lat)) * cos(radians(now.lat))
        * cos(radians(was.lon - now.lon)))) > 5""",
    "urgency changed": "SELECT count(*) FROM pair WHERE coalesce(was.urgency, '') <> coalesce(now.urgency, '')",
    # a core that was closed or reopened is listed as that
    "state changed": "SELECT count(*) FROM pair WHERE was.state IS DISTINCT FROM now.state AND was.back = now.back",
    "permit changed": """SELECT count(*) FROM pair WHERE was.permit IS DISTINCT FROM now.permit
        OR was.permit_to IS DISTINCT FROM now.permit_to""",
    "position found": "SELECT count(*) FROM pair WHERE was.lat IS NULL AND now.lat IS NOT NULL",
    "position lost": "SELECT count(*) FROM pair WHERE was.lat IS NOT NULL AND now.lat IS NULL",
    "size changed": """SELECT count(*) FROM pair WHERE was.diameter_mm IS DISTINCT FROM now.diameter_mm
        OR was.depth_mm IS DISTINCT FROM now.depth_mm""",
    "not comparable": """SELECT
        (SELECT count(*) FROM b WHERE (plain = '' OR plain IN (SELECT plain FROM a)) AND "row" NOT IN (SELECT was."row" FROM pair))
      + (SELECT count(*) FROM a WHERE (plain = '' OR plain IN (SELECT plain FROM b)) AND "row" NOT IN (SELECT now."row" FROM pair))""",
}


@pytest.fixture(scope="module")
def found(later_demo, tmp_path_factory):
    before, after, changed = later_demo
    return compare_runs(before, after.folder, tmp_path_factory.mktemp("months") / "compare"), changed


@pytest.fixture(scope="module")
def sql(found):
    with duckdb.connect() as base:
        for name, run in (("b", found[0].before), ("a", found[0].after)):
            base.execute(_SQL.format(name=name, path=run.folder / "cores.parquet"))
        base.execute(_MATCH)
        yield base


@pytest.mark.parametrize("kind", _COUNTS)
def test_sql_counts_the_same(found, sql, kind):
    ours = found[0].changes.kinds.set_index("change")["cores"]
    assert set(ours.index) == set(_COUNTS)
    assert sql.sql(_COUNTS[kind]).fetchone()[0] == ours[kind]


def test_what_was_done_to_the_register_is_what_is_reported(found):
    comparison, changed = found
    lines = comparison.changes.lines
    for what, ids in changed.items():
        assert sorted(lines.loc[lines["change"].eq(what), "core_id"]) == ids, what
    # rows that differ only in their order have no change of their own
    assert comparison.changes.account["not_comparable_before"] == comparison.changes.account["not_comparable_after"]


def test_the_need_by_district_is_that_of_the_order_sheets_and_of_what_is_not_planned(found):
    table = found[0].changes.districts.set_index("district")
    for run, name in ((found[0].before, "bags_before"), (found[0].after, "bags_after")):
        orders = pd.read_csv(run.folder / "orders.csv")
        # a bag holds 20 kg
        ordered = orders[orders["item"].str.startswith("grout")].groupby("district")["needed"].sum() / 20
        left = pd.read_csv(run.folder / "not_planned.csv").groupby("district")["net_bags"].sum()
        bags = ordered.add(left[left > 0], fill_value=0.0)
        assert table.loc[bags.index, name].tolist() == pytest.approx(bags.tolist(), abs=1e-5)
        assert table[name].sum() == pytest.approx(bags.sum(), abs=1e-4)
        assert run.record["orders"]["bags_needed"] == pytest.approx(bags.sum(), abs=1e-4)
