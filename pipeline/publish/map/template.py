"""The page's template filled in, and the policy that lets in its own scripts and style sheets alone."""

import base64
import hashlib
import re
from typing import Final

__all__ = ["fill", "policy_of"]

_PLACEHOLDER: Final = re.compile(r"@@(\w+)@@")


def fill(template: str, parts: dict[str, str]) -> str:
    """Return a template with each ``@@name@@`` replaced by the part of that name.

    In one pass: in a chain of replacements a register cell could name the next placeholder.
    """
    return _PLACEHOLDER.sub(lambda found: parts[found[1]], template)


def policy_of(template: str, parts: dict[str, str], pictures_from: str | None = None) -> str:
    """Return a page's content security policy: its own inline scripts and style sheets, by their hash, and no others.

    Parameters
    ----------
    template
        The page with its placeholders.
    parts
        What fills them, but for the policy itself.
    pictures_from
        The one host from which pictures may come; None: from nowhere.
    """
    hashes = {}
    for tag in ("script", "style"):
        bodies = re.findall(rf"<{tag}>(.*?)</{tag}>", template, flags=re.DOTALL)
        digests = [hashlib.sha256(fill(body, parts).encode()).digest() for body in bodies]
        hashes[tag] = " ".join(f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests)
    pictures = "data:" if pictures_from is None else f"data: {pictures_from}"
    return (
        f"default-src 'none'; script-src {hashes['script']}; style-src {hashes['style']}; "
        f"img-src {pictures}; base-uri 'none'; form-action 'none'"
    )
