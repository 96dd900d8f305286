"""A web server on this computer, for tests: it answers as each path is told to, and keeps what was asked for."""

import datetime as dt
import ipaddress
import socket
import ssl
import struct
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

Answer = Callable[[BaseHTTPRequestHandler], object]


class WebServer:
    """``answers``: by path without its query, what is sent. ``asked``: every path that was asked for, with its query."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.answers: dict[str, Answer | bytes] = {}
        self.asked: list[str] = []
        # connections, also those that asked for nothing
        self.connections = 0

    def url(self, path: str, scheme: str = "http") -> str:
        """Return the address of a path here."""
        return f"{scheme}://127.0.0.1:{self.port}{path}"


def send(data: bytes, **headers: str) -> Answer:
    """Return what sends a file with its length and other headers; ``_`` in a name stands for a hyphen."""

    def answer(request: BaseHTTPRequestHandler) -> None:
        request.send_response(200)
        lines = {"Content-Length": str(len(data))} | {name.replace("_", "-"): text for name, text in headers.items()}
        for name, text in lines.items():
            request.send_header(name, text)
        request.end_headers()
        request.wfile.write(data)

    return answer


def fail(code: int) -> Answer:
    """Return what answers with an error."""
    return lambda request: request.send_error(code)


def lead_to(address: str, code: int = 302) -> Answer:
    """Return what leads on to another address."""

    def answer(request: BaseHTTPRequestHandler) -> None:
        request.send_response(code)
        request.send_header("Location", address)
        request.send_header("Content-Length", "0")
        request.end_headers()

    return answer


def break_off(data: bytes, length: int, *, hard: bool = False) -> Answer:
    """Return what sends less than it says, and ends the connection; ``hard``: by a reset."""

    def answer(request: BaseHTTPRequestHandler) -> None:
        request.send_response(200)
        request.send_header("Content-Length", str(length))
        request.end_headers()
        request.wfile.write(data)
        request.wfile.flush()
        request.close_connection = True
        if hard:
            request.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            request.connection.close()

    return answer


@contextmanager
def web_server(certificate: Path | None = None) -> Iterator[WebServer]:
    """Serve on a free port of this computer; with a certificate, encrypted."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            served.asked.append(self.path)
            answer = served.answers.get(self.path.partition("?")[0], fail(404))
            (send(answer) if isinstance(answer, bytes) else answer)(self)

        do_HEAD = do_POST = do_OPTIONS = do_GET  # noqa: N815 - the names that the library looks for

        def log_message(self, *_: object) -> None:
            pass

    class Server(ThreadingHTTPServer):
        daemon_threads = True

        def verify_request(self, *_: object) -> bool:
            served.connections += 1
            return True

        def handle_error(self, *_: object) -> None:
            # a client that goes away is part of the tests
            pass

    server = Server(("127.0.0.1", 0), Handler)
    served = WebServer(server.server_address[1])
    if certificate is not None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificate)
        # the handshake is made where its failure is handled
        server.socket = context.wrap_socket(server.socket, server_side=True, do_handshake_on_connect=False)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield served
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def write_certificate(path: Path) -> None:
    """Write a key and the certificate that it signed itself, for 127.0.0.1."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "test")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    plain = key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    path.write_bytes(plain + made.public_bytes(pem))
