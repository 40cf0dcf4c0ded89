"""One GET, bounded in time, size and place: against a real server on this machine that behaves as badly as it can."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from service.errors import Unavailable
from service.outdoor.fetch import Fetched, fetch
from tests.ports import free_port

Answer = Callable[[BaseHTTPRequestHandler], None]


@contextmanager
def serving(answer: Answer) -> Iterator[tuple[str, list[BaseHTTPRequestHandler]]]:
    """An address where `answer` answers, and the questions that came."""
    asked: list[BaseHTTPRequestHandler] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self)
            answer(self)

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", asked
    finally:
        server.shutdown()
        server.server_close()
        thread.join(5)


def plainly(status: int = 200, body: bytes = b"{}", **headers: str) -> Answer:
    def answer(asked: BaseHTTPRequestHandler) -> None:
        asked.send_response(status)
        for name, value in headers.items():
            asked.send_header(name.replace("_", "-"), value)
        asked.send_header("Content-Length", str(len(body)))
        asked.end_headers()
        asked.wfile.write(body)

    return answer


def failed(url: str, **bounds: float) -> Unavailable:
    with pytest.raises(Unavailable) as problem:
        fetch(url, **bounds)  # type: ignore[arg-type]
    return problem.value


class TestAnswered:
    def test_the_body_as_it_came(self) -> None:
        with serving(plainly(body=b'{"a": 1}')) as (url, asked):
            found = fetch(f"{url}/f.json?key=k&days=2")
            assert found == Fetched(b'{"a": 1}')
            assert asked[0].path == "/f.json?key=k&days=2"
            assert asked[0].headers["Accept-Encoding"] == "identity"

    def test_nothing_is_told_but_the_question(self) -> None:
        with serving(plainly()) as (url, asked):
            fetch(url)
            assert {name.lower() for name in asked[0].headers} == {
                "host",
                "accept",
                "accept-encoding",
                "user-agent",
                "connection",
            }

    def test_what_is_unchanged_is_not_sent_again(self) -> None:
        def answer(asked: BaseHTTPRequestHandler) -> None:
            same = asked.headers["If-None-Match"] == '"v1"' and asked.headers["If-Modified-Since"]
            plainly(304, b"")(asked) if same else plainly(
                ETag='"v1"', Last_Modified="Sun, 01 Mar 2026 14:00:00 GMT"
            )(asked)

        with serving(answer) as (url, _):
            first = fetch(url)
            assert first is not None
            assert (first.etag, first.last_modified) == ('"v1"', "Sun, 01 Mar 2026 14:00:00 GMT")
            assert fetch(url, first) is None

    def test_without_a_length_too(self) -> None:
        def answer(asked: BaseHTTPRequestHandler) -> None:
            asked.send_response(200)
            asked.end_headers()
            asked.wfile.write(b"[1]")

        with serving(answer) as (url, _):
            found = fetch(url)
            assert found is not None
            assert found.body == b"[1]"


class TestRefused:
    @pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
    def test_another_host_is_not_asked(self, status: int) -> None:
        with (
            serving(plainly()) as (other, asked),
            serving(plainly(status, Location=f"{other}/x")) as (url, _),
        ):
            problem = failed(url)
            assert (problem.code, problem.field) == ("outdoor_elsewhere", "url")
            assert asked == []

    def test_it_says_where_to(self) -> None:
        with serving(plainly(302, Location="https://new.example/f.json?key=secret")) as (url, _):
            problem = failed(url)
            assert "new.example" in problem.message
            assert "secret" not in str(problem)

    @pytest.mark.parametrize("status", [401, 404, 429, 500, 503])
    def test_a_refusal_is_told_with_its_number(self, status: int) -> None:
        with serving(plainly(status)) as (url, _):
            problem = failed(f"{url}/?key=secret")
            assert problem.code == "outdoor_refused"
            assert str(status) in problem.message
            assert "secret" not in str(problem)

    def test_unchanged_without_anything_known_is_no_answer(self) -> None:
        with serving(plainly(304, b"")) as (url, _):
            assert failed(url).code in ("outdoor_refused", "outdoor_elsewhere")


class TestBroken:
    def test_nobody_there(self) -> None:
        assert failed(f"http://127.0.0.1:{free_port()}/").code == "outdoor_unreached"

    @pytest.mark.parametrize("url", ["http://nowhere.invalid/", "http://127.0.0.1:99999/", "http://a..b/"])
    def test_an_address_that_leads_nowhere(self, url: str) -> None:
        assert failed(url).code == "outdoor_unreached"

    def test_an_address_that_is_none(self) -> None:
        with pytest.raises(
            ValueError, match="Invalid IPv6"
        ):  # by the description of the source, before it is asked
            failed("http://[::1")

    def test_too_large(self) -> None:
        with serving(plainly(body=b"x" * 5000)) as (url, _):
            assert failed(url, most_bytes=4000).code == "outdoor_too_large"

    def test_too_large_without_end(self) -> None:
        def answer(asked: BaseHTTPRequestHandler) -> None:
            asked.send_response(200)
            asked.end_headers()
            while True:
                asked.wfile.write(b"x" * 65536)

        with serving(lambda asked: _until_gone(answer, asked)) as (url, _):
            assert failed(url, most_bytes=1_000_000).code == "outdoor_too_large"

    def test_broken_off_half_way(self) -> None:
        def answer(asked: BaseHTTPRequestHandler) -> None:
            asked.send_response(200)
            asked.send_header("Content-Length", "1000")
            asked.end_headers()
            asked.wfile.write(b"{")

        with serving(answer) as (url, _):
            assert "broke off" in failed(url).message

    @pytest.mark.parametrize("in_head", [True, False])
    def test_a_letter_now_and_then_is_no_answer(self, in_head: bool) -> None:
        """It would take a minute; half a second is given, and it ends within ten times that."""
        stop = threading.Event()

        def answer(asked: BaseHTTPRequestHandler) -> None:
            if not in_head:
                asked.send_response(200)
                asked.end_headers()
            for letter in b"HTTP/1.1 200 OK\r\n" + b"x" * 300 if in_head else b"{" * 300:
                asked.wfile.write(bytes([letter]))
                asked.wfile.flush()
                if stop.wait(0.2):
                    return

        with serving(lambda asked: _until_gone(answer, asked)) as (url, _):
            begun = time.monotonic()
            problem = failed(url, time_out_s=0.5)
            assert time.monotonic() - begun < 5.0
            stop.set()
        assert problem.code == "outdoor_unreached"
        assert "in time" in problem.message

    def test_one_that_takes_the_call_and_says_nothing(self) -> None:
        with socket.create_server(("127.0.0.1", 0)) as silent:
            assert "in time" in failed(f"http://127.0.0.1:{silent.getsockname()[1]}/", time_out_s=0.3).message

    def test_what_is_no_http(self) -> None:
        def answer(asked: BaseHTTPRequestHandler) -> None:
            asked.wfile.write(b"hello\r\n\r\n")

        with serving(answer) as (url, _):
            assert failed(url).code == "outdoor_unreached"

    def test_plain_where_tls_was_asked_for(self) -> None:
        with serving(plainly()) as (url, _):
            assert failed(url.replace("http:", "https:")).code == "outdoor_unreached"


def _until_gone(answer: Answer, asked: BaseHTTPRequestHandler) -> None:
    try:
        answer(asked)
    except OSError:
        asked.close_connection = True
