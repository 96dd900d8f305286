"""What is bought beside what is planned, in sentences: safety stock, rounding, stock, and what pooling saves."""

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from pipeline.publish.words import Words

__all__ = ["bought_sentences"]


def bought_sentences(totals: pd.DataFrame, words: Words, *, pool: bool) -> list[str]:
    """Return a text per item.

    Parameters
    ----------
    totals
        The totals of the purchases, one row per item.
    words
        The language.
    pool
        Whether the yards supply each other already.
    """
    return [_of_item(total, words, pool=pool) for total in totals.to_dict("records")]


def _of_item(total: Mapping[Hashable, Any], words: Words, *, pool: bool) -> str:
    def figure(name: str) -> float:
        return float(pd.to_numeric(pd.Series([total[name]])).fillna(0.0).iloc[0])

    def money(amount: float) -> str:
        return f"{words.number(amount, 2)} {total['currency'] or ''}".strip()

    is_priced = total["measure"] == "cost"
    ordered = round(figure("packs_ordered"))
    parts = [
        words.plainly(
            "buying.bought", item=total["item"], n=ordered, planned=words.number(figure("packs_planned")),
            safety=words.number(figure("packs_safety_stock")), rounding=words.number(figure("rounding_packs")),
            stock=words.number(figure("stock_used"), 1 if figure("stock_used") % 1 else 0),
        )
    ]  # fmt: skip
    if is_priced and figure("rounding_cost") > 0:
        parts.append(words.plainly("buying.rounding", cost=money(figure("rounding_cost"))))
    less = figure("cost_apart") - figure("cost_pooled") if is_priced else figure("packs_apart") - figure("packs_pooled")
    if less > 0:
        saved = money(less) if is_priced else words.plainly("buying.packs", n=round(less))
        parts.append(words.plainly("buying.pool_saves" if pool else "buying.pool_would_save", saved=saved))
    if figure("gap") > 0:
        parts.append(words.plainly("buying.gap", gap=words.percent(figure("gap"), 1)))
    return " ".join(parts)
