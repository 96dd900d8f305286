"""Parts of a report's HTML that several tests look at."""

import re


def first_page_of(page):
    """Return the first page, its white space collapsed."""
    return " ".join(page.split("<nav")[0].split())


def table_of(page, caption):
    """Return the table with the caption of that id."""
    return page.split(f'<caption id="{caption}">')[1].split("</table>")[0]


def text_of(markup):
    """Return markup as a reader sees it."""
    return " ".join(re.sub(r"<[^>]+>", " ", str(markup)).split())
