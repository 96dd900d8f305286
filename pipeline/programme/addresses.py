"""Paths of inputs that are addresses: of the web, or of an object in a store, and what of them may be shown."""

import re
from typing import Annotated, Final, Self
from urllib.parse import urlsplit

from pydantic import Field, ValidatorFunctionWrapHandler, WrapValidator

__all__ = ["AS_ADDRESS", "Address", "InputPath", "as_address"]

_STORES: Final = ("s3", "gs")
_WEB: Final = ("http", "https")
# no scheme is as long; without a bound, a path of many letters takes the square of their number
_SCHEME: Final = re.compile(r"([A-Za-z][A-Za-z0-9+.-]{0,63})://")
# addresses of a database have rules of their own
_DATABASES: Final = ("postgresql", "postgres")
_USER: Final = re.compile(r"://[^/?#\s]*@")
_SECRET: Final = re.compile(r"\b(password|passwd|pwd|secret|token)\s*=\s*('[^']*'|\S+)", re.IGNORECASE)
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f]")


class Address(str):
    """An address: as text, what may be shown of it, which has no query; ``full`` is what is opened.

    A query may be a signature that opens the data to whoever reads it. ``scheme``: "https", "http", "s3" or "gs"; empty
    for any other, from which nothing is read.
    """

    __slots__ = ("full", "scheme")
    full: str
    scheme: str

    def __new__(cls, full: str) -> Self:
        """Return the address as text, without its query and without what looks like a password."""
        found = _SCHEME.match(full)
        scheme = found[1].lower() if found and found[1].lower() in (*_STORES, *_WEB) else ""
        hidden = full if scheme in _STORES else re.split("[?#]", full, maxsplit=1)[0]
        address = super().__new__(cls, _SECRET.sub(r"\1=...", hidden))
        address.full, address.scheme = full, scheme
        return address

    @property
    def is_web(self) -> bool:
        """Whether it is an address of the web."""
        return self.scheme in _WEB

    @property
    def is_pattern(self) -> bool:
        """Whether it stands for several objects of a store, such as ``s3://bucket/2026/*.csv``."""
        return self.scheme in _STORES and "*" in self


def as_address(text: str) -> str:
    """Return a path as it is, or as an ``Address`` if it is one.

    Raises
    ------
    ValueError
        It has a user name or a password in it, or lacks what an address needs.
    """
    if isinstance(text, Address):
        return text
    found = _SCHEME.search(text)
    if found is None or found[1].lower() in _DATABASES:
        return Address(text) if text.startswith("/vsi") or _SECRET.search(text) else text
    if _USER.search(text):
        raise ValueError(
            "found an address with a user name or a password in it, expected one without: a store takes them from the "
            "environment or a profile, and nothing written here is kept from those who read this file"
        )
    if _CONTROL.search(text):
        raise ValueError("found an address with a control character in it, expected a plain address")
    address = Address(text)
    if address.is_web:
        _refuse_odd_web_address(address)
    elif address.scheme:
        _refuse_odd_object(address)
    return address


def _refuse_odd_web_address(address: Address) -> None:
    try:
        parts = urlsplit(address.full)
        is_sound = bool(parts.hostname) and (parts.port is None or parts.port > 0)
    except ValueError:
        is_sound = False
    if not is_sound:
        raise ValueError(f"found {str(address)!r}, expected an address such as https://host/folder/roads.gpkg")


def _refuse_odd_object(address: Address) -> None:
    bucket, _, key = address.full.partition("://")[2].partition("/")
    if "?" in address.full:
        raise ValueError(
            f"found {address.full.partition('?')[0]!r} with a query, expected bucket and key alone: region and "
            "endpoint come from the environment or a profile"
        )
    if not bucket or not key or {"..", "."} & {*key.split("/")} or "*" in bucket:
        raise ValueError(
            f"found {str(address)!r}, expected bucket and key, such as {address.scheme}://bucket/roads.parquet"
        )


def _path(written: object, handler: ValidatorFunctionWrapHandler) -> str:
    # the library would make plain text of an address that was read already
    return written if isinstance(written, Address) else as_address(handler(written))


AS_ADDRESS: Final = WrapValidator(_path)
InputPath = Annotated[str, Field(min_length=1), AS_ADDRESS]
