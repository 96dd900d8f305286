"""All tables of a run by name, and whether those of two runs are the same to the last digit."""

import dataclasses

import pandas as pd


def frames_of(result):
    """Return all tables of a run by name."""
    found = {"table": result.table, "cores": result.cores, "findings": result.audit.findings}
    for part in ("reasons", "plan", "orders", "audit"):
        whole = getattr(result, part)
        named = whole._asdict() if hasattr(whole, "_asdict") else {
            one.name: getattr(whole, one.name) for one in dataclasses.fields(whole)
        }  # fmt: skip
        found |= {f"{part}.{name}": table for name, table in named.items() if isinstance(table, pd.DataFrame)}
    assert len(found) > 15
    return found


def same(found, expected):
    """Check that two sets of tables are the same to the last digit."""
    assert list(found) == list(expected)
    for name, table in expected.items():
        pd.testing.assert_frame_equal(found[name], table, check_exact=True, obj=name)
