"""Files of the web: what comes of each answer that a server may give, against a real server on this computer."""

import socket
import time

import pytest

from pipeline.errors import InputError
from pipeline.intake.files import remote, web
from pipeline.intake.files.remote import local_copy, remote_inputs
from pipeline.programme.addresses import as_address
from tests.web_server import break_off, fail, lead_to, send, web_server, write_certificate

_DATA = b"id,lon,lat\n" + b"HV-1,-82.2,44.8\n" * 20_000


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr(remote, "_WAIT_S", 0.01)
    for name in ("http_proxy", "https_proxy", "HTTP_PROXY", "HTTPS_PROXY"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def served():
    with web_server() as server:
        yield server


def _fetched(url):
    with remote_inputs(allowed=True):
        return local_copy(as_address(url), "cores", "path").read_bytes()


def _refused(url):
    with pytest.raises(InputError) as error:
        _fetched(url)
    return str(error.value)


def test_a_file_comes_as_it_is_and_by_its_name(served):
    served.answers["/a%20b/c%C3%B6res.csv"] = _DATA
    with remote_inputs(allowed=True):
        copy = local_copy(as_address(served.url("/a b/cöres.csv?sig=x%2Fy&t=1#top")), "cores", "path")
        assert copy.read_bytes() == _DATA
        assert copy.name == "cöres.csv"
    assert served.asked == ["/a%20b/c%C3%B6res.csv?sig=x%2Fy&t=1"]
    assert not copy.exists()


def test_a_file_of_unknown_length_comes_whole(served):
    def chunked(request):
        request.send_response(200)
        request.send_header("Transfer-Encoding", "chunked")
        request.end_headers()
        for part in (b"id,lon\n", b"1,2\n"):
            request.wfile.write(b"%x\r\n%s\r\n" % (len(part), part))
        request.wfile.write(b"0\r\n\r\n")

    served.answers["/cores.csv"] = chunked
    assert _fetched(served.url("/cores.csv")) == b"id,lon\n1,2\n"


@pytest.mark.parametrize("hard", [False, True])
def test_a_connection_lost_in_the_middle_is_tried_again_from_the_beginning(served, hard):
    answers = iter([break_off(_DATA[:5000], len(_DATA), hard=hard), fail(503), send(_DATA)])
    served.answers["/cores.csv"] = lambda request: next(answers)(request)  # noqa: PLW0108 - another one each time
    assert _fetched(served.url("/cores.csv")) == _DATA
    assert len(served.asked) == 3


@pytest.mark.parametrize("hard", [False, True])
def test_a_connection_lost_again_and_again_ends_with_an_error(served, hard):
    served.answers["/cores.csv"] = break_off(_DATA[:5000], len(_DATA), hard=hard)
    error = _refused(served.url("/cores.csv?sig=SECRET"))
    assert error.startswith(served.url("/cores.csv: "))
    assert "tried 3 times" in error
    assert "lost" in error or "only 5,000 of 320,011 bytes arrived" in error
    assert "SECRET" not in error
    assert len(served.asked) == 3


@pytest.mark.parametrize(
    ("answer", "said", "asked"),
    [
        (fail(404), "no such file on the server (HTTP 404). Correct the address.", 1),
        (fail(410), "no such file on the server (HTTP 410)", 1),
        (fail(401), "the server does not let you read it (HTTP 401). Check your rights;", 1),
        (fail(403), "an address that is signed for some hours may have expired", 1),
        (fail(500), "the server cannot answer now (HTTP 500); tried 3 times. Run again later.", 3),
        (fail(429), "the server cannot answer now (HTTP 429); tried 3 times", 3),
        (fail(418), "the server answered with HTTP 418", 1),
        (
            send(b"<html>sign in", Content_Type="text/html; charset=utf-8"),
            "the server sent a web page, expected data",
            1,
        ),
        (send(b"x", Content_Encoding="gzip"), "the server sent the file packed (gzip)", 1),
        (lambda request: request.connection.close(), "was lost; tried 3 times", 3),
        (lambda request: request.wfile.write(b"no HTTP at all\r\n\r\n"), "was lost; tried 3 times", 3),
    ],
)
def test_each_failure_is_told_with_what_to_do_and_without_the_query(served, answer, said, asked):
    served.answers["/cores.csv"] = answer
    error = _refused(served.url("/cores.csv?X-Amz-Signature=SECRET"))
    assert said in error
    assert error.startswith(served.url("/cores.csv: "))
    assert "SECRET" not in error
    assert len(served.asked) == asked


def test_redirects_are_followed_a_few_times_and_no_further(served):
    served.answers |= {f"/{n}": lead_to(f"/{n + 1}") for n in range(5)} | {"/5": _DATA}
    assert _fetched(served.url("/0")) == _DATA
    served.answers["/ring"] = lead_to("/ring")
    assert "leads from one address to the next more than 5 times, in a circle" in _refused(served.url("/ring"))


@pytest.mark.parametrize("target", ["file:///etc/hostname", "ftp://127.0.0.1/x", "data:text/csv,a"])
def test_a_redirect_leads_to_nothing_but_the_web(served, target):
    served.answers["/cores.csv"] = lead_to(target)
    error = _refused(served.url("/cores.csv"))
    assert "the server leads on to ftp://127.0.0.1, where" in error or "in a circle, or out of the web" in error


def test_a_redirect_gives_up_no_encryption(served, tmp_path, monkeypatch):
    write_certificate(tmp_path / "own.pem")
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "own.pem"))
    served.answers["/cores.csv"] = _DATA
    with web_server(tmp_path / "own.pem") as secure:
        secure.answers["/cores.csv"] = _DATA
        secure.answers["/down"] = lead_to(served.url("/cores.csv?SECRET"))
        served.answers["/up"] = lead_to(secure.url("/cores.csv", "https"))
        assert _fetched(secure.url("/cores.csv", "https")) == _DATA
        assert _fetched(served.url("/up")) == _DATA
        error = _refused(secure.url("/down", "https"))
    assert "the server leads on to http://127.0.0.1, where the connection would no longer be encrypted" in error
    assert "SECRET" not in error
    assert "/cores.csv" not in served.asked


def test_a_certificate_that_nobody_vouches_for_is_refused(tmp_path):
    write_certificate(tmp_path / "own.pem")
    with web_server(tmp_path / "own.pem") as secure:
        secure.answers["/cores.csv"] = _DATA
        error = _refused(secure.url("/cores.csv", "https"))
        assert "the certificate of 127.0.0.1 cannot be trusted (self-signed certificate). Check the address;" in error
        assert secure.asked == []


def test_a_server_that_does_not_encrypt_is_told(served):
    assert "no encrypted connection to 127.0.0.1 could be made" in _refused(served.url("/cores.csv", "https"))


def test_a_host_that_refuses_or_is_not_known_is_told():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        assert "127.0.0.1 refused the connection; tried 3 times" in _refused(f"http://127.0.0.1:{port}/cores.csv")
    # the name is reserved for this, and never resolves
    assert "the host kerfbook.invalid is not known; tried 3 times" in _refused("http://kerfbook.invalid/cores.csv")


def test_a_server_that_does_not_answer_is_given_up(served, monkeypatch):
    monkeypatch.setattr(web, "_TIMEOUT_S", 0.2)
    served.answers["/cores.csv"] = lambda _: time.sleep(1)
    assert "did not answer within 0.2 s; tried 3 times. Run again later." in _refused(served.url("/cores.csv"))


def test_a_server_that_sends_next_to_nothing_is_given_up(served, monkeypatch):
    monkeypatch.setattr(remote, "_WITHIN_S", 0.1)

    def drip(request):
        request.send_response(200)
        request.send_header("Content-Length", "100000")
        request.end_headers()
        for _ in range(40):
            request.wfile.write(b"x")
            request.wfile.flush()
            time.sleep(0.02)

    served.answers["/cores.csv"] = drip
    assert "hardly anything arrives; tried 3 times" in _refused(served.url("/cores.csv"))
