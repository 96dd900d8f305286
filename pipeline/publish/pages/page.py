"""A page of text: one HTML file that runs nothing and asks for nothing, made from a template of ours.

Text of a register or layer enters as values, escaped by Jinja; the templates themselves are files of ours, and what
they say comes from the catalogue of words.
"""

import base64
import hashlib
from importlib import resources

import jinja2
from markupsafe import Markup

from pipeline.publish.looks import colour_variables
from pipeline.publish.pages.charts import mark
from pipeline.publish.words import Words, title_text

__all__ = ["render_page"]


def render_page(template: str, words: Words, **values: object) -> str:
    """Return a page; the same values give the same text.

    Parameters
    ----------
    template
        Name of a file in ``templates``; it may include and import others there.
    words
        The language: templates say its sentences by ``say`` and write numbers and dates its way.
    values
        What the template asks for; ``style`` and ``digest`` of the sheet are added.
    """
    templates = resources.files("pipeline.publish.pages") / "templates"
    environment = jinja2.Environment(
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        loader=jinja2.FunctionLoader(lambda name: (templates / name).read_text("utf-8")),
    )
    environment.globals.update(
        language=words.language,
        direction=words.direction,
        say=words.say,
        own=words.own,
        number=words.number,
        signed=words.signed,
        percent=words.percent,
        date=words.date,
        day=words.day,
        title=title_text,
        listed=words.listed,
        mark=mark,
        code=Markup("<code>{}</code>").format,
    )
    # the browser hashes what stands between the tags, and takes every line end for a plain one
    style = colour_variables() + (templates / "report.css").read_text("utf-8").replace("\r\n", "\n")
    return environment.get_template(template).render(
        style=Markup(style),  # noqa: S704 - our own file
        digest=base64.b64encode(hashlib.sha256(style.encode()).digest()).decode(),
        **values,
    )
