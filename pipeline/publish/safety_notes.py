"""What orders say about the safety stock: for each district and for all at once, and what it assumes."""

from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["safety_notes"]


def safety_notes(result: RunResult, words: Words) -> list[str]:
    """Return the sentences on safety stock, service levels, lower bound and survey round; none without bags to mix."""
    lines, level = result.orders.safety_stock, result.settings.orders.service_level
    levels = result.orders.service_levels
    if not len(lines):
        return []
    total = levels[levels["shade"].isna() & levels["level"].eq(level)].iloc[0]
    held, known = lines["safety_stock"].sum(), lines["without_model"].sum()
    notes = [
        words.plainly("safety.what", level=words.percent(level)),
        words.plainly(
            "safety.calibrated" if result.calibration.enough else "safety.not_calibrated",
            model=words.number(max(held - known, 0)), held=words.number(held),
        ),
        words.plainly("safety.mean", expected=words.number(total["expected"]), mean=words.number(total["mean"])),
        words.plainly(
            "safety.jointly", joint=words.percent(total["joint_level"]), level=words.percent(level),
            enough=words.number(total["enough_jointly"]), held=words.number(total["expected"] + held),
            common=words.number(total["enough"]),
        ),
        words.plainly(
            "safety.bound", kerf=words.measure(result.catalogue.materials.geometry.kerf.value),
            share=words.percent(total["planned_suffices"]),
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
