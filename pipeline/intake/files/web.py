"""Files of the web, opened as streams; no query of an address is in any error."""

import http.client
import socket
import ssl
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Final
from urllib.error import HTTPError, URLError
from urllib.parse import quote, urlsplit, urlunsplit

from pipeline.errors import InputError
from pipeline.intake.files.transfer import LostError, NotThereError, Stream
from pipeline.programme.addresses import Address
from pipeline.version import __version__

__all__ = ["open_web"]

# for each answer of the network, not for the whole file
_TIMEOUT_S: Final = 30.0
_BLOCK: Final = 1 << 16
_GONE: Final = (404, 410)
_FORBIDDEN: Final = (401, 403, 407)
# a server that is busy, or broken for now
_PASSING: Final = (408, 425, 429, 500, 502, 503, 504)
_CONNECTION: Final = "Check the address and the network, and run again."


class _Redirects(urllib.request.HTTPRedirectHandler):
    """Follows a few redirects within the web, and none that gives up encryption."""

    max_redirections = 5

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: http.client.HTTPMessage,
        newurl: str,
    ) -> urllib.request.Request | None:
        """Return the request for the new address, or raise where it is none to follow."""
        parts = urlsplit(newurl)
        if parts.scheme not in {"http", "https"} or (req.type == "https" and parts.scheme == "http"):
            fp.close()
            raise _UnsafeRedirectError(f"{parts.scheme}://{parts.hostname or ''}")
        return super().redirect_request(req, fp, code, msg, headers, _ascii(newurl))


class _UnsafeRedirectError(Exception):
    """A redirect that must not be followed; its text has scheme and host of the target."""


def _opener() -> urllib.request.OpenerDirector:
    """Return what opens addresses of the web alone: no file, and no FTP."""
    opener = urllib.request.OpenerDirector()
    for handler in (
        urllib.request.ProxyHandler(),
        urllib.request.HTTPHandler(),
        urllib.request.HTTPSHandler(),
        urllib.request.HTTPDefaultErrorHandler(),
        urllib.request.HTTPErrorProcessor(),
        urllib.request.UnknownHandler(),
        _Redirects(),
    ):
        opener.add_handler(handler)
    return opener


@contextmanager
def open_web(address: Address) -> Iterator[Stream]:
    """Open a file of the web.

    Raises
    ------
    InputError
        It is not there, may not be read, or is no data.
    LostError
        The connection failed.
    """
    with _named_errors(address):
        request = urllib.request.Request(  # noqa: S310 - an address of the web is all that gets here
            _ascii(address.full), headers={"User-Agent": f"kerfbook/{__version__}", "Accept-Encoding": "identity"}
        )
        answer = _opener().open(request, timeout=_TIMEOUT_S)
    with answer:
        _refuse_other_answers(answer, address)

        def read() -> bytes:
            with _named_errors(address):
                return bytes(answer.read1(_BLOCK))

        size = answer.headers.get("Content-Length", "")
        yield Stream(read, int(size) if size.isascii() and size.isdigit() else None)


def _ascii(address: str) -> str:
    """Return an address as it is sent: in ASCII, with what is encoded already left alone."""
    parts = urlsplit(address)
    host = (parts.hostname or "").encode("idna").decode("ascii") if "%" not in parts.netloc else parts.netloc
    host = f"[{host}]" if ":" in host else host
    netloc = host if parts.port is None else f"{host}:{parts.port}"
    path, query = quote(parts.path, safe="/%:@!$&'()*+,;=~"), quote(parts.query, safe="/%:@!$&'()*+,;=?~[]")
    return urlunsplit((parts.scheme, netloc, path, query, ""))


def _refuse_other_answers(answer: http.client.HTTPResponse, address: Address) -> None:
    """Stop where the answer is no file, but for example the page to sign in on."""
    if answer.status != http.client.OK:
        raise InputError(
            f"{address}: the server answered with HTTP {answer.status}, expected a file. Open it in a browser."
        )
    if answer.headers.get_content_type() == "text/html":
        raise InputError(
            f"{address}: the server sent a web page, expected data. Perhaps it asks to sign in: open the address in a "
            "browser, or save the data as a file."
        )
    packed = (answer.headers.get("Content-Encoding") or "identity").lower()
    if packed != "identity":
        raise InputError(
            f"{address}: the server sent the file packed ({packed}), expected it as it is. Save the data as a file."
        )


@contextmanager
def _named_errors(address: Address) -> Iterator[None]:
    """Raise the errors of the network as ours."""
    host = urlsplit(address.full).hostname
    try:
        yield
    except HTTPError as error:
        error.close()
        raise _answered(error, address) from None
    except _UnsafeRedirectError as target:
        raise InputError(
            f"{address}: the server leads on to {target}, where the connection would no longer be encrypted or is no "
            "longer to the web; this is not followed. Ask for the address that the data is at now."
        ) from None
    except URLError as error:
        raise _unreached(error.reason, address, host) from None
    except (OSError, http.client.HTTPException) as error:
        raise _unreached(error, address, host) from None
    except (UnicodeError, ValueError):
        raise InputError(f"{address}: is no address that can be opened. Correct it.") from None


def _answered(error: HTTPError, address: Address) -> Exception:
    """Return the error for an answer that is no file."""
    code = error.code
    if code in _GONE:
        return NotThereError(f"{address}: no such file on the server (HTTP {code}). Correct the address.")
    if code in _FORBIDDEN:
        return NotThereError(
            f"{address}: the server does not let you read it (HTTP {code}). Check your rights; an address that is "
            "signed for some hours may have expired. Otherwise save the data as a file."
        )
    if code in _PASSING:
        return LostError(f"the server cannot answer now (HTTP {code})", "Run again later.")
    if 300 <= code < 400:
        return InputError(
            f"{address}: the server leads from one address to the next more than {_Redirects.max_redirections} times, "
            "in a circle, or out of the web. Ask for the address that the data is at now."
        )
    return InputError(f"{address}: the server answered with HTTP {code}, expected a file. Check the address.")


def _unreached(error: object, address: Address, host: str | None) -> Exception:
    """Return the error for a connection that failed."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return InputError(
            f"{address}: the certificate of {host} cannot be trusted ({error.verify_message}). Check the address; if "
            "your network has a certificate authority of its own, name its file in SSL_CERT_FILE."
        )
    if isinstance(error, ssl.SSLError):
        why = str(error.reason or "TLS error").lower().replace("_", " ")
        return InputError(
            f"{address}: no encrypted connection to {host} could be made ({why}). Check whether the address begins "
            "with https:// or http://."
        )
    if isinstance(error, socket.gaierror):
        return LostError(f"the host {host} is not known", _CONNECTION)
    if isinstance(error, ConnectionRefusedError):
        return LostError(f"{host} refused the connection", _CONNECTION)
    if isinstance(error, TimeoutError):
        return LostError(f"{host} did not answer within {_TIMEOUT_S:g} s", "Run again later.")
    return LostError(f"the connection to {host} was lost", "Run again.")
