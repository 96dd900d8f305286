"""A page of text made from a template: one HTML file that fetches nothing, without scripts but for one of this package.

Text from a register or layer enters as values, which Jinja escapes. The templates are files of this package, and their
sentences come from the words file.
"""

import base64
import hashlib
from importlib import resources
from typing import Final, NamedTuple

import jinja2
from jinja2.bccache import Bucket
from markupsafe import Markup

from pipeline.publish.looks import colour_variables
from pipeline.publish.pages.charts import mark
from pipeline.publish.words import Words, title_text

__all__ = ["Script", "render_page", "script_of"]


class Script(NamedTuple):
    """A script of a page: its text, and the digest by which the page's policy lets it in."""

    text: Markup
    digest: str


def script_of(name: str) -> Script:
    """Return a script that lies beside the templates; a page that is given it as ``script`` may run it."""
    text = _file(name)
    return Script(Markup(text), _digest(text))  # noqa: S704 - a file of this package


class _Compiled(jinja2.BytecodeCache):
    """The templates compiled so far: compiling them takes longer than filling them in."""

    def __init__(self) -> None:
        self._code: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill the bucket of a template that was compiled before from the same source."""
        if code := self._code.get(bucket.key + bucket.checksum):
            bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a template that was compiled just now."""
        self._code[bucket.key + bucket.checksum] = bucket.bytecode_to_string()


_COMPILED: Final = _Compiled()


def render_page(template: str, words: Words, sheet: str = "report.css", **values: object) -> str:
    """Return a page as HTML; the same values give the same text.

    Parameters
    ----------
    template
        Name of a file in ``templates``; it may include and import others from there.
    words
        The language. Templates take its sentences by ``say``, and write numbers and dates its way.
    sheet
        Name of its style sheet, beside it.
    values
        What the template uses; the style sheet and its digest, ``style`` and ``digest``, are added.
    """
    environment = jinja2.Environment(
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=_COMPILED,
        loader=jinja2.FunctionLoader(_file),
    )
    environment.globals.update(
        language=words.language,
        direction=words.direction,
        say=words.say,
        own=words.own,
        rule_label=words.rule_label,
        number=words.number,
        signed=words.signed,
        percent=words.percent,
        date=words.date,
        day=words.day,
        weekday=words.weekday,
        title=title_text,
        listed=words.listed,
        mark=mark,
        code=Markup("<code>{}</code>").format,
    )
    style = colour_variables() + _file(sheet)
    return environment.get_template(template).render(
        style=Markup(style),  # noqa: S704 - a file of this package
        digest=_digest(style),
        **values,
    )


def _file(name: str) -> str:
    # a browser hashes the text between the tags with every line end as a plain one
    text = (resources.files("pipeline.publish.pages") / "templates" / name).read_text("utf-8")
    return text.replace("\r\n", "\n")


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
