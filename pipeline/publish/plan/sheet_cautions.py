"""The cautions of a sheet: those of the whole day once, those of several stops once with their numbers."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from markupsafe import Markup

from pipeline.programme.cautions import CoreCautions, cautions_on_paper, lifting_caution
from pipeline.publish.words import Words

__all__ = ["day_cautions", "stop_cautions"]

Cells = Mapping[str, Any]


def day_cautions(stops: Sequence[Cells], cautions: CoreCautions, words: Words) -> list[str]:
    """Return the cautions that hold all day, with the weight of the heaviest core that is lifted."""
    weights = np.array([stop["weight_kg"] for stop in stops if stop["task"] == "reinstate"], float)
    texts = list(cautions.sheet.cautions)
    if len(weights):
        heaviest = float(np.nanmax(weights)) if np.isfinite(weights).any() else np.nan
        texts.append(lifting_caution(cautions, heaviest, is_of_sheet=bool(np.isfinite(heaviest))))
    return [words.translated(text) for text in texts]


def stop_cautions(
    stops: Sequence[Cells], cautions: CoreCautions, words: Words
) -> tuple[list[Markup], dict[int, list[str]]]:
    """Return the cautions that several stops share, with their numbers, and by row those of single stops."""
    at: dict[str, list[Cells]] = defaultdict(list)
    for stop in stops:
        surface = stop["surface"] if isinstance(stop["surface"], str) else None
        for text in cautions_on_paper(cautions, str(stop["state"]), surface):
            at[text].append(stop)
    own: dict[int, list[str]] = {int(stop["row"]): [] for stop in stops}
    shared: dict[Markup, list[str]] = {}
    for text, mine in at.items():
        if len(mine) == 1:
            own[int(mine[0]["row"])].append(words.translated(text))
            continue
        numbers = words.listed(str(stop["stop"]) for stop in mine)
        where = words.say("sheet.at_all") if len(mine) == len(stops) else words.say("sheet.at_stops", stops=numbers)
        shared.setdefault(where, []).append(words.translated(text))
    return [Markup("<b>{}:</b> {}").format(where, " ".join(texts)) for where, texts in shared.items()], own
