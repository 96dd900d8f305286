"""The report: one HTML file that opens from disk and prints."""

import base64
import hashlib
from typing import TYPE_CHECKING, Final

import jinja2

if TYPE_CHECKING:
    from pipeline.run import RunResult

__all__ = ["draw_report"]

_STYLE: Final = (
    "body{font:15px/1.45 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#222}"
    "table{border-collapse:collapse;margin:.5rem 0}td,th{border-bottom:1px solid #ccc;padding:.2rem .6rem;text-align:left}"
)
_TEMPLATE: Final = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{{ title }}</title>
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'sha256-{{ digest }}'">
<meta name="viewport" content="width=device-width, initial-scale=1"><style>{{ style }}</style></head><body><main>
<h1>{{ title }}</h1><p>As of {{ as_of }}: {{ account.rows_read }} cores read, {{ account.flagged }} flagged,
{{ account.pending }} pending, {{ account.reinstated }} reinstated; {{ account.unplaced }} cannot be put on the map.</p>
{% for heading, table in tables %}<h2>{{ heading }}</h2><table><thead><tr>{% for name in table.columns %}<th>{{ name }}</th>
{% endfor %}</tr></thead><tbody>{% for row in table.to_dict("records") %}<tr>{% for cell in row.values() %}<td>{{ cell }}</td>
{% endfor %}</tr>{% endfor %}</tbody></table>{% endfor %}
<h2>Cautions</h2><ul>{% for caution in cautions %}<li>{{ caution }}</li>{% endfor %}</ul>
<p>{{ sources | join("; ") }}</p></main></body></html>
"""


def draw_report(result: "RunResult") -> str:
    """Return the whole page; the same run gives the same text."""
    template = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined).from_string(_TEMPLATE)
    rules = result.audit.rules
    return template.render(
        title=result.settings.programme.name,
        as_of=result.as_of.isoformat(),
        account=result.account,
        digest=base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode(),
        style=_STYLE,
        tables=[
            ("Findings", rules[["rule", "severity", "title", "found", "assessed", "not_assessed"]]),
            ("Orders", result.orders.lines.round(1)),
            ("Left out of the orders", result.orders.left_out),
        ],
        cautions=result.catalogue.cautions,
        sources=result.inputs.credits,
    )
