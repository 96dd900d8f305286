"""What orders say about the safety stock: for each district and for all at once, and what it assumes."""

from typing import Final

from pipeline.publish.words import Words
from pipeline.publish.written_values import written_number
from pipeline.results import RunResult

__all__ = ["level_shown", "safety_notes"]

# decimals of a share below which a computer's numbers are not exact
_DIGITS: Final = 12
# from here on whole percents would be 100
_NEARLY_ALL: Final = 0.995


def level_shown(level: float, words: Words) -> str:
    """Return a service level in percent with all the digits it has: 99.5% is not 100%."""
    return written_number(words.locale, "percent", str(round(level, _DIGITS)), (0, _DIGITS - 2))


def _share_shown(share: float, words: Words) -> str:
    """Return a share of the simulations in whole percent, but nearly all of them as exactly as needed."""
    return level_shown(share, words) if share >= _NEARLY_ALL else words.percent(share)


def safety_notes(result: RunResult, words: Words) -> list[str]:
    """Return the sentences on safety stock, service levels, lower bound and survey round; none without bags to mix."""
    lines, level = result.orders.safety_stock, result.settings.orders.service_level
    levels = result.orders.service_levels
    if not len(lines):
        return []
    total = levels[levels["shade"].isna() & levels["level"].eq(level)].iloc[0]
    held, known = lines["safety_stock"].sum(), lines["without_model"].sum()
    notes = [
        words.plainly("safety.what", level=level_shown(level, words)),
        words.plainly(
            "safety.calibrated" if result.calibration.enough else "safety.not_calibrated",
            model=words.number(max(held - known, 0)), held=words.number(held),
        ),
        words.plainly("safety.mean", expected=words.number(total["expected"]), mean=words.number(total["mean"])),
        words.plainly(
            "safety.jointly", joint=_share_shown(total["joint_level"], words), level=level_shown(level, words),
            enough=words.number(total["enough_jointly"]), held=words.number(total["expected"] + held),
            common=words.number(total["enough"]),
        ),
        words.plainly(
            "safety.bound", kerf=words.measure(result.catalogue.materials.geometry.kerf.value),
            share=_share_shown(total["planned_suffices"], words),
        ),
    ]  # fmt: skip
    survey = result.orders.survey_round
    if len(survey):
        every = survey.iloc[-1]
        notes.append(
            words.plainly(
                "safety.survey", n=round(every["cores"]), expected=words.number(every["expected"]),
                enough=words.number(every["enough"]),
            )
        )  # fmt: skip
    return notes
