"""The table of stock as proposed sections: its columns, and the yard that supplies each district."""

from pathlib import Path
from typing import Final

import pandas as pd

from pipeline.intake.files.layers import read_raw
from pipeline.programme.catalogue import Catalogue
from pipeline.programme.settings import Layer
from pipeline.propose.layers import ProposedLayer, add_columns
from pipeline.propose.questions import Choice, Question, Section, Setting

__all__ = ["propose_stock"]

_NEEDED: Final = ("yard", "item", "packs")
# more districts are a list for an editor, not questions for a terminal
_MOST_QUESTIONS: Final = 30


def propose_stock(
    file: Path, label: str, words: dict[str, list[str]], catalogue: Catalogue, districts: list[str]
) -> tuple[ProposedLayer, Section]:
    """Return the table of stock as a proposed section, and the section of the yards.

    Parameters
    ----------
    file, label
        The file, and its path as the programme writes it.
    words
        What headers call each column of stock.
    catalogue
        Only needed to confirm columns.
    districts
        The names of the districts. Stock of a yard that supplies none of them could not be used, so the stock waits
        until each district has its yard.
    """
    section, yards = Section("orders.stock", label), Section("orders.yards", "the yards")
    table = read_raw(Layer(path=file.name), file.parent, "orders.stock", None)
    columns = add_columns(section, table, words, _NEEDED, catalogue)
    names = sorted(table.frame[columns["yard"]].dropna().str.strip().unique()) if "yard" in columns else []
    unknown = [name for name in names if not pd.Series(districts, dtype="str").str.casefold().eq(name.casefold()).any()]
    if unknown:
        for district in districts[:_MOST_QUESTIONS]:
            yards.ask(
                Question(
                    f'Which yard supplies "{district}"?',
                    tuple(Choice(f'"{name}"', "", {("", district): name}) for name in names),
                )
            )
    waits = yards.questions[0] if yards.questions else None
    section.settings.insert(0, Setting("", "path", label, question=waits))
    return ProposedLayer(section, table, columns), yards
