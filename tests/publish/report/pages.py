"""Parts of a report's HTML that several tests look at."""

import dataclasses
import re

from pipeline.decide import NOTHING_DECIDED


def first_page_of(page):
    """Return the first page, its white space collapsed."""
    return " ".join(page.split("<nav")[0].split())


def table_of(page, caption):
    """Return the table with the caption of that id, without its links to the map and the anchors of its rows."""
    table = page.split(f'<caption id="{caption}">')[1].split("</table>")[0]
    return re.sub(r'<tr id="[^"]*">', "<tr>", re.sub(r'<a class="on-map"[^>]*>(.*?)</a>', r"\1", table))


def text_of(markup):
    """Return markup as a reader sees it."""
    return " ".join(re.sub(r"<[^>]+>", " ", str(markup)).split())


def undecided(result):
    """Return a run as it would be if its programme had neither decisions nor owners."""
    own = {"owner", "decision", "decided_by", "decided_on", "decided_until", "decision_reason", "decision_standing"}
    findings = result.audit.findings.assign(**dict.fromkeys(own)).astype(dict.fromkeys(own, "str"))
    return dataclasses.replace(
        result,
        settings=result.settings.model_copy(update={"decisions": None, "owners": []}),
        audit=dataclasses.replace(result.audit, findings=findings),
        decided=NOTHING_DECIDED,
    )
