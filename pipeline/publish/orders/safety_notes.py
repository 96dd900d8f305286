"""What the order workbook says about the safety stock: for each district and for all at once, and what it assumes."""

from pipeline.results import RunResult
from pipeline.wording import counted

__all__ = ["safety_notes"]


def safety_notes(result: RunResult) -> list[str]:
    """Return the sentences on safety stock, service levels, lower bound and survey round; none without bags to mix."""
    lines, level = result.orders.safety_stock, result.settings.orders.service_level
    levels = result.orders.service_levels
    if not len(lines):
        return []
    total = levels[levels["shade"].isna() & levels["level"].eq(level)].iloc[0]
    held, known = lines["safety_stock"].sum(), lines["without_model"].sum()
    kerf_mm = result.catalogue.materials.geometry.kerf.value
    calibrated = (
        "Kerf and bed are calibrated from records of use"
        if result.calibration.enough
        else "Kerf and bed are not calibrated (kerfbook calibrate)"
    )
    notes = [
        (
            f"Safety stock: bags to hold beyond the bags to mix, so that they suffice in {level:.0%} of the "
            "simulations (orders.service_level), and how many each source of uncertainty alone requires: uncertain "
            "shades, lost bags, and the model (kerf, gap, bed, density, overfill), whose errors are the same at every "
            "core and do not average out. The need of every mix is drawn and rounded up as a crew would. Not covered: "
            "a map that is wrong about a whole street."
        ),
        (
            f"{calibrated}: the uncertainty of kerf, bed and the rest of the volume model accounts for "
            f"{max(held - known, 0):,.0f} of the {held:,.0f} bags of safety stock."
        ),
        (
            f"Likeliest and mean: the plan mixes {total['expected']:,.0f} bags; the mean of the simulations, lost bags "
            f"included, is {total['mean']:,.0f}."
        ),
        (
            f"All at once: if each district holds its own safety stock, no district runs out of any shade in "
            f"{total['joint_level']:.0%} of the simulations. For {level:.0%}, hold {total['enough_jointly']:,.0f} bags "
            f"in all instead of {total['expected'] + held:,.0f}; in one common store, {total['enough']:,.0f} suffice."
        ),
        "Service levels: the bags that 90, 95 and 99% require in total, so what a higher level costs.",
        (
            f"Lower bound: it holds if every void is exactly as stated (kerf {kerf_mm:g} mm) and only whole bags are "
            "opened. If the values lie elsewhere in their ranges, fewer or more bags are needed: the bags to mix "
            f"suffice without any safety stock in {total['planned_suffices']:.0%} of the simulations."
        ),
    ]
    survey = result.orders.survey_round
    if len(survey):
        every = survey.iloc[-1]
        notes.append(
            f"Survey round: {counted(round(every['cores']), 'open core')} of unknown size or surface may need "
            f"{every['expected']:,.0f} bags more, up to {every['enough']:,.0f}. They are in neither the bags to mix "
            "nor the safety stock."
        )
    return notes
