"""The demo's register a month earlier: the same programme, and nothing in it that was not known on that day."""

import tomllib
from pathlib import Path

import pandas as pd
import pytest

_DATA = Path(__file__).parents[2] / "sample_data"
_DATES = ["cut_date", "plated", "backfill", "done", "reopened", "interim", "notice", "inspected"]
_DAY = pd.Timestamp("2026-08-31")


def _register(path):
    # the ragged row has a cell too many
    return pd.read_csv(path, dtype=str, keep_default_na=False, usecols=range(31), index_col=False)


@pytest.fixture(scope="module")
def august():
    return _register(_DATA / "august/cores.csv")


@pytest.fixture(scope="module")
def september():
    return _register(_DATA / "cores.csv")


def _days(table):
    """Return the days of the cells that hold one, each style read by its own pattern."""
    return table[_DATES].apply(_read)


def _read(texts):
    texts = texts.str.strip().str[:10]
    read = [pd.to_datetime(texts, format=style, errors="coerce") for style in ("%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y")]
    return read[0].fillna(read[1]).fillna(read[2])


def test_nothing_in_it_happened_after_the_day(august):
    assert (_days(august).max() <= _DAY).all()
    # a core that is not reinstated has no grout
    assert august.loc[august["done"].eq(""), ["shade", "bags", "water", "flush", "reopened"]].eq("").all(axis=None)


def test_it_has_every_core_that_was_cut_by_then_in_another_order(august, september):
    was_there = ~_days(september)["cut_date"].gt(_DAY)
    ids = september.loc[was_there, "id"]
    assert sorted(august["id"]) == sorted(ids)
    assert august["id"].tolist() != ids.tolist()
    assert len(august) == 237


def test_it_differs_in_a_few_positions_permits_sizes_and_steps(august, september):
    once = [
        table[table["id"].str.match(r"^ ?HV-\d{4} ?$") & ~table["id"].duplicated(keep=False)]
        for table in (august, september)
    ]
    then, now = (table.set_index("id") for table in once)
    now = now.loc[then.index]
    differ = {column: int(then[column].ne(now[column]).sum()) for column in ("lat", "permit_to", "dia", "lon", "depth")}
    assert differ == {"lat": 4, "permit_to": 6, "dia": 3, "lon": 0, "depth": 0}
    was_done = then["done"].ne("") & now["done"].eq("")
    # one interim reinstatement had been entered as the permanent one
    assert was_done.sum() == 1
    assert then.loc[was_done, "done"].tolist() == now.loc[was_done, "interim"].tolist()


def test_its_programme_is_the_same_but_for_the_day_and_what_is_left_out():
    now = tomllib.loads((_DATA / "programme.toml").read_text("utf-8"))
    then = tomllib.loads((_DATA / "august/programme.toml").read_text("utf-8"))
    assert str(then["programme"].pop("as_of")) == "2026-08-31"
    left_out = {"orders", "costs", "budget", "plan", "crews", "weather", "decisions"}
    assert set(now) - set(then) == left_out
    for name, section in then.items():
        if name in {"thresholds", "catalogue", "owners"}:
            assert section == now[name]
        else:
            assert {k: v for k, v in section.items() if k != "path"}.items() <= now[name].items()
