"""What is wrong with a file of settings, in sentences: the key, what was found, what was expected."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from pipeline.programme.names import did_you_mean
from pipeline.programme.ranges import shortened

__all__ = ["sentences"]

# more would hide the first, and a thousand wrong keys have one cause
_MOST: Final = 20
_LONGEST_KEY: Final = 120
_LONGEST_REASON: Final = 600

# what the checks of the library expect, in the words of a settings file
_EXPECTED: Final = {
    "string_type": "text in quotation marks",
    "string_too_short": "text, at least {min_length} long",
    "string_too_long": "text, at most {max_length} long",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "list_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "literal_error": "{expected}",
    "greater_than": "a number greater than {gt:g}",
    "greater_than_equal": "a number of at least {ge:g}",
    "less_than": "a number less than {lt:g}",
    "less_than_equal": "a number of at most {le:g}",
}


def sentences(
    error: ValidationError, model: type[BaseModel], remedy: str = "", written: Mapping[str, Any] | None = None
) -> list[str]:
    """Return one sentence or two per wrong key or value: the key, what was found, what was expected.

    Parameters
    ----------
    error
        What the model refused.
    model
        The model, to name the keys it knows.
    remedy
        What to do, as a sentence; added to each wrong value.
    written
        The settings as they were written: an entry of a list is called by its name there.
    """
    wrong = error.errors(include_url=False)
    lines = [_sentence(details, model, f" {remedy}".rstrip(), written or {}) for details in wrong[:_MOST]]
    return [*lines, f"and {len(wrong) - _MOST:,} more errors like these."] if len(wrong) > _MOST else lines


def _sentence(details: ErrorDetails, model: type[BaseModel], remedy: str, written: Mapping[str, Any]) -> str:
    key = _cut(_key(details["loc"], written) or "top level", _LONGEST_KEY)
    found, kind = details["input"], details["type"]
    if kind == "missing":
        return f"{key}: missing, and required. Add it."
    if kind == "extra_forbidden":
        names = _known_names(model, details["loc"][:-1])
        hint = did_you_mean(str(details["loc"][-1]), names)
        known = f" Known here: {', '.join(names)}." if names else ""
        return f"{key}: unknown key.{hint}{known}{remedy}"
    reason = details["msg"].removeprefix("Value error, ")
    if kind in _EXPECTED:
        reason = f"expected {_EXPECTED[kind].format(**details.get('ctx', {}))}"
    elif kind.startswith("date"):
        reason = "expected a date such as 2026-09-30"
    elif not reason.startswith(("found ", "expected ")):
        reason = f"expected {reason.removeprefix('Input should be ')}"
    if not reason.startswith("found "):
        reason = f"found {_written(found)}, {reason}"
    end = "" if reason.endswith(("?", ".")) else "."
    return f"{key}: {_cut(reason, _LONGEST_REASON)}{end}{remedy}"


def _cut(text: str, most: int) -> str:
    """Return a text without the middle of it where it is too long to read."""
    return text if len(text) <= most else f"{text[: most // 2]} ... {text[-most // 2 :]}"


def _key(path: tuple[int | str, ...], written: Any) -> str:  # noqa: ANN401 - whatever a TOML file holds
    """Return the key at a path: an entry of a list by its name, else counted from 1; a lone table has no number."""
    key = ""
    for part in path:
        inner = None
        if isinstance(part, str):
            key += f".{part}" if key else part
            inner = written.get(part) if isinstance(written, Mapping) else None
        elif isinstance(written, list):
            inner = written[part]
            name = inner.get("name") if isinstance(inner, Mapping) else None
            key += f' "{name}"' if isinstance(name, str) else f" no. {part + 1}"
        elif isinstance(written, Mapping):
            # a table where a list may stand is the only entry of the list
            inner = written
        else:
            key += f".{part}"
        written = inner
    return key


def _written(value: object) -> str:
    """Return a value of a TOML file much as it is written there."""
    if isinstance(value, dict):
        return "a table"
    return value.isoformat() if isinstance(value, dt.date | dt.time) else shortened(value)


def _known_names(model: type[BaseModel], path: tuple[int | str, ...]) -> list[str]:
    """Return the keys that a model knows at a path; names of the user's own and numbers in a list are passed over."""
    for part in path:
        field = model.model_fields.get(str(part))
        if field is None:
            continue
        kinds = (field.annotation, *getattr(field.annotation, "__args__", ()))
        inner = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]
        if not inner:
            return []
        model = inner[0]
    return [field.alias or name for name, field in model.model_fields.items()]
