"""What a comparison asks of a run or a pack: its columns by what is known, and either of them read from its path."""

from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.contracts import no_text
from pipeline.intake.cells.dates import read_dates
from pipeline.readback.compared_packs import looks_like_pack, read_pack
from pipeline.readback.runs import Run, read_run, register_sections, register_text, reinstatement_text

__all__ = ["comparable_cores", "read_run_or_pack", "reinstatement_known"]

# columns that later versions added: an older run has them, but without a value
_LATER = ("state", "urgency")


def read_run_or_pack(path: Path) -> Run:
    """Return a finished run from its folder, or a pack from its folder or zip.

    Raises
    ------
    InputError
        It is neither, or a file in it is missing, incomplete or damaged.
    """
    return read_pack(path) if looks_like_pack(path) else read_run(path)


def comparable_cores(run: Run) -> pd.DataFrame:
    """Return the cores of a run or pack with ``permit``, its number and last day; without what is not known of any."""
    cores = run.cores
    if "state" in cores and cores["state"].isna().all():
        cores = cores.drop(columns=[name for name in _LATER if name in cores])
    if run.is_pack:
        number, expiry = (
            cores[name] if name in cores else no_text(cores.index) for name in ("permit_no", "permit_expires_on")
        )
        is_known = "permit_no" in cores or "permit_expires_on" in cores
    else:
        number, expiry = register_text(run, "permit_no"), _expiry(run)
        is_known = bool(number.notna().any() or expiry.notna().any())
    # a column of the register that is called so is none of ours
    cores = cores.drop(columns="permit", errors="ignore")
    return cores.assign(permit=_permit(number, expiry)) if is_known else cores


def reinstatement_known(run: Run) -> pd.Series | None:
    """Return N texts that show whether a core is reinstated; None for a pack that shows it of no flagged core."""
    if not run.is_pack or "reinstated_at" in run.cores:
        return reinstatement_text(run)
    if "state" not in run.cores:
        return None
    return run.cores["state"].where(run.cores["state"].isin(["back", "unknown"]))


def _permit(number: pd.Series, expiry: pd.Series) -> pd.Series:
    permit: pd.Series = number.fillna("").str.strip() + (" to " + expiry).fillna("")
    return permit


def _expiry(run: Run) -> pd.Series:
    """Return the last day of each permit by ISO 8601, as every pack has it; missing where it cannot be read."""
    written, sections = register_text(run, "permit_expires_on"), register_sections(run)
    days = no_text(run.cores.index)
    for section in sections:
        here: pd.Series = run.cores["register"].eq(str(section.get("name"))) if len(sections) > 1 else written.notna()
        days.loc[here] = _days(written[here], section)
    return days


def _days(written: pd.Series, section: dict[str, Any]) -> pd.Series:
    order = section.get("day_first")
    instants = read_dates(written, "UTC", day_first=order if isinstance(order, bool) else None).instants
    days: pd.Series = instants.dt.strftime("%Y-%m-%d").astype("str")
    return days
