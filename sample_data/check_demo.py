"""Check that the demo shows every rule as planned, and say what to change and to run where it does not.

Usage: python sample_data/check_demo.py

Exit code 0 if every rule has a finding in the demo and ``planted.csv`` lists every finding; 1 otherwise.
"""

import sys
from pathlib import Path

import pandas as pd

from pipeline.run import run_programme

__all__ = ["check"]

_HERE = Path(__file__).parent
_RUN = """Then run, from the top of the checkout:

    .venv/bin/python sample_data/make_town.py
    .venv/bin/kerfbook audit sample_data/programme.toml
    .venv/bin/python sample_data/check_demo.py
"""
# the demo has one register; the sample in three_contractors/ shows these
_OF_SEVERAL_REGISTERS = ("core-in-two-registers", "core-handed-over", "id-in-two-registers")
# as many data rows as a message lists
_ROWS_SHOWN = 6


def check(rules: pd.Series, found: pd.DataFrame, planted: pd.DataFrame) -> list[str]:
    """Return one message per rule that the demo does not show as planned, in the order of the rule book.

    Parameters
    ----------
    rules
        Every rule's slug.
    found
        The findings of the audit: ``row`` and ``rule``.
    planted
        The findings it should have: ``row`` and ``rule``.
    """
    messages = []
    for rule in rules:
        is_rows = set(found.loc[found["rule"].eq(rule), "row"])
        due_rows = set(planted.loc[planted["rule"].eq(rule), "row"])
        if not is_rows | due_rows:
            messages.append(
                f'{rule}: no core of the demo breaches this rule. Add ("{rule}", "any", {{column: text}}) at the end of'
                " TROUBLES in sample_data/planted_troubles.py, with the cells of cores.csv that breach it."
            )
        elif not due_rows:
            messages.append(
                f"{rule}: {_rows(is_rows)} of cores.csv breach this rule and are not planted. Change the scripts"
                f' in sample_data/ so that they pass, or add "{rule}" to the `rules` of each core with the fact that'
                " causes it, as sample_data/troubles_by_street.py does."
            )
        elif is_rows != due_rows:
            more, fewer = is_rows - due_rows, due_rows - is_rows
            parts = [f"{_rows(more)} not planted"] * bool(more) + [f"{_rows(fewer)} planted and not found"] * bool(
                fewer
            )
            messages.append(f"{rule}: {', '.join(parts)}. Change the rule, or what sample_data/ plants for it.")
    unknown = sorted(set(planted["rule"]) - set(rules))
    messages += [
        f"{rule}: planted, but there is no such rule. Remove it from the scripts in sample_data/." for rule in unknown
    ]
    return messages


def _rows(rows: set[int]) -> str:
    shown = ", ".join(map(str, sorted(rows)[:_ROWS_SHOWN]))
    return f"data row{'s' * (len(rows) > 1)} {shown}" + f" and {len(rows) - _ROWS_SHOWN} more" * (
        len(rows) > _ROWS_SHOWN
    )


def main() -> int:
    """Audit the demo without writing, and print what is amiss."""
    audit = run_programme(_HERE / "programme.toml", None).audit
    rules = audit.rules.loc[~audit.rules["rule"].isin(_OF_SEVERAL_REGISTERS), "rule"]
    messages = check(rules, audit.findings, pd.read_csv(_HERE / "planted.csv"))
    for message in messages:
        print(message)
    print(_RUN if messages else f"The demo shows all {len(rules)} rules as planted.")
    return 1 if messages else 0


if __name__ == "__main__":
    sys.exit(main())
