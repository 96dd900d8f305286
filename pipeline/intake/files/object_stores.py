"""Objects of S3 and Google Cloud Storage, opened as streams; credentials come by the stores' usual means."""

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from fnmatch import fnmatchcase
from functools import cache
from typing import Any, Final

from pyarrow import fs

from pipeline.errors import InputError
from pipeline.intake.files.transfer import LostError, NotThereError, Stream
from pipeline.programme.addresses import Address

__all__ = ["matching_objects", "open_object", "parts_in_store"]

_TIMEOUT_S: Final = 30.0
_TRIES: Final = 3
# each block is a request of its own
_BLOCK: Final = 1 << 23
_PARTS: Final = (".parquet", ".geoparquet", ".pq")
# what GIS programs ask for when data is open to all
_UNSIGNED: Final = {"s3": "AWS_NO_SIGN_REQUEST", "gs": "GS_NO_SIGN_REQUEST"}
_PROFILES: Final = {
    "s3": "AWS_PROFILE, or AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY",
    "gs": "GOOGLE_APPLICATION_CREDENTIALS",
}
_DENIED: Final = re.compile(
    r"ACCESS_DENIED|HTTP status 40[13]|INVALID_ACCESS_KEY|InvalidAccessKeyId|SIGNATURE_DOES_NOT_MATCH|EXPIRED|"
    r"PERMISSION_DENIED|UNAUTHENTICATED|INVALID_CLIENT_TOKEN|CREDENTIAL|UNRECOGNIZED_CLIENT",
    re.IGNORECASE,
)
_ELSEWHERE: Final = re.compile(r"HTTP status 301|PermanentRedirect|AuthorizationHeaderMalformed")
_TLS: Final = re.compile(r"curlCode: (?:35|51|58|60|77)\b|SSL")
_SLOW: Final = re.compile(r"curlCode: 28\b|REQUEST_TIMEOUT|DEADLINE_EXCEEDED")


@contextmanager
def open_object(address: Address) -> Iterator[Stream]:
    """Open one object.

    Raises
    ------
    InputError
        It is not there, may not be read, or is a folder.
    LostError
        The connection failed.
    """
    with _named_errors(address):
        store, path = _store(address), _path(address)
        info = store.get_file_info(path)
        if info.type == fs.FileType.NotFound:
            raise _not_there(address)
        if info.type != fs.FileType.File:
            raise InputError(f"{address}: this is a folder of the store; expected an object. Correct the address.")
        opened = store.open_input_stream(path)
    with opened:

        def read() -> bytes:
            with _named_errors(address):
                block = bytes(opened.read(_BLOCK))
                # the blocks of two versions make neither of them
                if not block and store.get_file_info(path).mtime != info.mtime:
                    raise LostError("the object changed while it was read", "Run again when nothing writes to it.")
                return block

        yield Stream(read, info.size)


def parts_in_store(address: Address) -> list[tuple[str, Address]]:
    """Return the Parquet files of a folder of a store, with their paths in it; none where the address is an object.

    Raises
    ------
    InputError
        The folder may not be read, or has no Parquet file.
    LostError
        The connection failed.
    """
    with _named_errors(address):
        store, path = _store(address), _path(address).rstrip("/")
        if store.get_file_info(path).type != fs.FileType.Directory:
            return []
        found = store.get_file_info(fs.FileSelector(path, recursive=True))
    inside = {one.path.removeprefix(f"{path}/"): one for one in found if one.type == fs.FileType.File}
    shown = [name for name in sorted(inside) if not any(part.startswith(("_", ".")) for part in name.split("/"))]
    parts = [name for name in shown if name.lower().endswith(_PARTS)]
    if not parts or "" in {part for name in parts for part in name.split("/")}:
        raise InputError(
            f"{address}: this is a folder of the store without Parquet files; expected an object, or a folder of "
            "Parquet files. Correct the address."
        )
    return [(name, Address(f"{address.scheme}://{inside[name].path}")) for name in parts]


def matching_objects(address: Address) -> list[Address]:
    """Return the objects of one folder whose names match a pattern, in the order of their names.

    Raises
    ------
    InputError
        The folder may not be read, or nothing in it matches.
    LostError
        The connection failed.
    """
    folder, _, pattern = _path(address).rpartition("/")
    if "*" in folder:
        raise InputError(f"{address}: found * in a folder, expected it in the name alone. Correct the address.")
    with _named_errors(address):
        found = _store(address).get_file_info(fs.FileSelector(folder, allow_not_found=True))
    names = sorted(one.path for one in found if one.type == fs.FileType.File and fnmatchcase(one.base_name, pattern))
    if not names:
        raise InputError(f"{address}: no object of the store matches. Correct the address.")
    return [Address(f"{address.scheme}://{name}") for name in names]


def _path(address: Address) -> str:
    """Return bucket and key."""
    return address.full.partition("://")[2]


def _store(address: Address) -> Any:  # noqa: ANN401 - the library has no types
    return _filesystem(address.scheme, _path(address).partition("/")[0])


@cache
def _filesystem(scheme: str, bucket: str) -> Any:  # noqa: ANN401 - the library has no types
    """Return the store that a bucket lies in."""
    unsigned = os.environ.get(_UNSIGNED[scheme], "").upper() in {"YES", "TRUE", "ON", "1"}
    if scheme == "gs":
        return fs.GcsFileSystem(anonymous=unsigned)
    endpoint = os.environ.get("AWS_ENDPOINT_URL_S3") or os.environ.get("AWS_ENDPOINT_URL")
    region = os.environ.get("AWS_REGION") or os.environ.get("AWS_DEFAULT_REGION")
    if endpoint is None and region is None:
        # the store knows where its buckets lie
        region = fs.resolve_s3_region(bucket)
    return fs.S3FileSystem(
        anonymous=unsigned,
        region=region,
        endpoint_override=endpoint,
        connect_timeout=_TIMEOUT_S,
        request_timeout=_TIMEOUT_S,
        retry_strategy=fs.AwsStandardS3RetryStrategy(max_attempts=_TRIES),
    )


def _not_there(address: Address) -> NotThereError:
    return NotThereError(f"{address}: no such object in the store. Correct the address; capitals count.")


@contextmanager
def _named_errors(address: Address) -> Iterator[None]:
    """Raise the errors of a store as ours; its own words are not passed on, since they may hold a key."""
    try:
        yield
    except FileNotFoundError:
        raise _not_there(address) from None
    except AttributeError:
        raise InputError(
            f"{address}: this build of pyarrow cannot read from {address.scheme}://. Install the one from PyPI, or "
            "save the data as a file."
        ) from None
    except (OSError, ValueError) as error:
        raise _named(str(error), address) from None


def _named(text: str, address: Address) -> Exception:
    """Return the error for what a store said."""
    unsigned = _UNSIGNED[address.scheme]
    code = re.search(r"AWS Error ([A-Z_]+)|google::cloud::Status\((\w+)", text)
    word = (code[1] or code[2]).lower().replace("_", " ") if code else "unknown"
    said = "" if word == "unknown" else f" ({word})"
    if _DENIED.search(text):
        return InputError(
            f"{address}: the store does not let you read it{said}. Check your rights and "
            f"{_PROFILES[address.scheme]}; for data that is open to all, set {unsigned}=YES."
        )
    if "Bucket" in text and "not found" in text:
        return InputError(f"{address}: no such bucket. Correct the address, and check region and endpoint.")
    if _ELSEWHERE.search(text):
        return InputError(f"{address}: the bucket lies in another region{said}. Set AWS_REGION to it.")
    if _TLS.search(text):
        return InputError(
            f"{address}: no encrypted connection to the store could be made, or its certificate cannot be trusted. "
            "Check the endpoint and the certificates of this computer."
        )
    if _SLOW.search(text):
        return LostError(f"the store did not answer within {_TIMEOUT_S:g} s", "Run again later.")
    return LostError(
        f"the store could not be reached or the connection was lost{said}",
        "Check the network and the endpoint, and run again.",
    )
