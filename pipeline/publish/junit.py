"""The audit as JUnit XML, for those who gate on it: a suite per rule, a case per district."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

import pandas as pd

from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_APPLICABLE, NOT_ASSESSED, PASSED
from pipeline.contracts import NO_DISTRICT
from pipeline.decide import is_accepted
from pipeline.errors import OutputError, SettingsError
from pipeline.publish.folder import lay_files
from pipeline.readback.cores_table import holds_run
from pipeline.results import RunResult
from pipeline.wording import counted

__all__ = ["junit_xml", "refuse_junit_place", "write_junit"]

# XML has no control characters but tab and line ends, no halves of a character, and no non-characters
_NOT_XML: Final = r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"
_MOST_IDS: Final = 100
_ENDING: Final = ".xml"


def refuse_junit_place(file: Path) -> None:
    """Refuse a file that the audit cannot be written to as JUnit XML, or that may be an input.

    Raises
    ------
    SettingsError
        The file does not end in ``.xml``.
    OutputError
        The file is in a run's folder, which must stay unchanged, or is a folder.
    """
    if file.is_dir():
        raise OutputError(f"{file}: is a folder, expected the name of a file. Add a file name, such as audit.xml.")
    if file.suffix.lower() != _ENDING:
        raise SettingsError(f"{file}: expected a file that ends in {_ENDING}. Correct --junit.")
    for folder in file.resolve().parents:
        if holds_run(folder):
            raise OutputError(
                f"{file}: is in a run's folder, which must stay unchanged. Choose another file with --junit."
            )


def write_junit(result: RunResult, file: Path) -> None:
    """Write the audit as JUnit XML; the file appears complete or not at all.

    Raises
    ------
    SettingsError, OutputError
        As for ``refuse_junit_place``, or the file cannot be written.
    """
    # the run itself may have made its folder
    refuse_junit_place(file)
    with lay_files(file.parent, "--junit") as draft:
        (draft / file.name).write_bytes(junit_xml(result))


def junit_xml(result: RunResult) -> bytes:
    """Return the audit as JUnit XML; the same run gives the same bytes.

    A case fails where cores of the district have findings of severity fail that nobody has accepted. It is skipped
    where none of them could be assessed, or the rule applies to none. Checks and notes are listed, and pass.
    """
    cores = result.counted_cores
    districts = cores["district"].astype("str").fillna(NO_DISTRICT).str.replace(_NOT_XML, "", regex=True)
    outcomes = result.audit.outcomes.loc[cores.index]
    found = result.counted_findings
    found = found.assign(
        id=_shown_ids(found),
        district=found["row"].map(districts.set_axis(cores["row"])),
        is_accepted=is_accepted(found),
    )
    by_rule = dict(iter(found.groupby("rule", sort=False)))
    root = ET.Element("testsuites", name=_text(result.settings.programme.name))
    for rule in result.audit.rules.to_dict("records"):
        slug = str(rule["rule"])
        suite = ET.SubElement(root, "testsuite", name=slug)
        counts = pd.crosstab(districts.to_numpy(), outcomes[slug].to_numpy()).sort_index()
        counts = counts.reindex(columns=[FOUND, PASSED, AT_LIMIT, NOT_ASSESSED, NOT_APPLICABLE], fill_value=0)
        of_rule = by_rule.get(slug, found.iloc[:0])
        for district, row in counts.iterrows():
            case = ET.SubElement(suite, "testcase", classname=slug, name=str(district))
            _fill(case, str(rule["title"]), row, of_rule[of_rule["district"].eq(str(district))])
        _count(suite)
    _count(root)
    ET.indent(root)
    return bytes(ET.tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"


def _fill(case: ET.Element, title: str, counts: pd.Series, found: pd.DataFrame) -> None:
    """Put what a rule found in a district into its case."""
    to_act_on = found[found["severity"].eq("fail") & ~found["is_accepted"]]
    assessed = int(counts[[FOUND, PASSED, AT_LIMIT]].sum())
    if len(to_act_on):
        message = f"{_text(title)} {counted(len(to_act_on), 'core')} of {assessed:,} assessed."
        ET.SubElement(case, "failure", message=message, type="fail").text = _listed(to_act_on["id"])
    elif not assessed:
        without = int(counts[NOT_ASSESSED])
        message = (
            f"Not assessed: {counted(without, 'core')} without the data that the rule needs."
            if without
            else "The rule applies to no core here."
        )
        ET.SubElement(case, "skipped", message=message)
    if lines := [*_notes(counts, found, to_act_on)]:
        ET.SubElement(case, "system-out").text = "\n".join(lines)


def _notes(counts: pd.Series, found: pd.DataFrame, to_act_on: pd.DataFrame) -> Iterator[str]:
    """Yield what is said of a case besides its failures."""
    others = found.drop(to_act_on.index)
    for name, these in (("Accepted", others[others["is_accepted"]]), ("To look at", others[~others["is_accepted"]])):
        if len(these):
            yield f"{name}: {counted(len(these), 'core')}: {_listed(these['id'])}"
    for name, code in (("Not assessed", NOT_ASSESSED), ("At the limit, cannot be told", AT_LIMIT)):
        if counts[code] and counts[[FOUND, PASSED, AT_LIMIT]].sum():
            yield f"{name}: {counted(int(counts[code]), 'core')}"


def _shown_ids(found: pd.DataFrame) -> pd.Series:
    """Return the ids of cores, or their rows where they have none."""
    ids = found["core_id"].astype("str").str.replace(_NOT_XML, "", regex=True)
    return ids.where(ids.fillna("").ne(""), "row " + found["row"].astype("str"))


def _listed(ids: pd.Series) -> str:
    more = f" and {len(ids) - _MOST_IDS:,} more" if len(ids) > _MOST_IDS else ""
    return ", ".join(ids.head(_MOST_IDS)) + more


def _text(text: str) -> str:
    return str(pd.Series([text]).str.replace(_NOT_XML, "", regex=True).item())


def _count(element: ET.Element) -> None:
    """Give a suite, or all of them, the number of cases, of failures and of skipped ones."""
    counts = {"tests": "testcase", "failures": "failure", "skipped": "skipped"}
    for name, tag in counts.items():
        element.set(name, str(sum(1 for _ in element.iter(tag))))
    element.set("errors", "0")
