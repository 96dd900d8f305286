"""Who has to act: the findings of each owner by urgency, as values for the pages."""

from typing import Any

import pandas as pd

from pipeline.contracts import URGENCIES
from pipeline.decide import is_accepted
from pipeline.ledger import NEW, owner_names
from pipeline.publish.owners import OWNERS, owner_files
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["owner_counts", "owners"]


def owners(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the section on owners: ``owned``, None where the settings name none."""
    names = owner_names(result.settings.owners)
    if not names:
        return {"owned": None}
    files, counts = owner_files(names), owner_counts(result)
    return {
        "owned": {
            "urgencies": [words.say(f"urgency.{urgency}") for urgency in URGENCIES],
            "rows": [
                {
                    "owner": words.own(line["owner"]) if line["owner"] else words.say("owners.nobody"),
                    "cores": words.number(line["cores"]),
                    "counts": [words.number(line[urgency]) if line[urgency] else "" for urgency in URGENCIES],
                    "new": words.number(line["new"]) if line["new"] else "",
                    "file": f"{OWNERS}/{files[line['owner']]}" if line["owner"] else "",
                }
                for line in counts.to_dict("records")
            ],
            "accepted": int(counts["accepted"].sum()),
            "is_compared": result.earlier.run is not None,
        }
    }


def owner_counts(result: RunResult) -> pd.DataFrame:
    """Return what each owner has to act on: failures and checks about cores that are counted, those accepted apart.

    Returns
    -------
    pandas.DataFrame
        One row per owner of the settings, in their order, and a last one, whose ``owner`` is empty, for findings of
        nobody, if there are any: ``cores``, the number of findings by urgency, of them ``new`` ones, and besides them
        ``accepted`` ones.
    """
    found = result.counted_findings
    found = found[found["severity"].ne("note")]
    found = found.assign(owner=found["owner"].astype("str").fillna(""))
    accepted = is_accepted(found)
    open_ones = found[~accepted]
    of_nobody = [""] if found["owner"].eq("").any() else []
    table = pd.crosstab(open_ones["owner"], open_ones["urgency"]).reindex(columns=list(URGENCIES))
    counts = {
        "cores": open_ones.groupby("owner")["row"].nunique(),
        **{urgency: table[urgency] for urgency in URGENCIES},
        "new": open_ones[open_ones["baseline"].eq(NEW)].groupby("owner").size(),
        "accepted": found[accepted].groupby("owner").size(),
    }
    index = pd.Index([*owner_names(result.settings.owners), *of_nobody], name="owner")
    return pd.DataFrame(counts).reindex(index).fillna(0).astype("int64").reset_index()
