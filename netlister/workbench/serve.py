"""A server of one page, for this machine alone: 127.0.0.1, one key, no files; what it writes goes through the desk.

An address with a key opens the page in one browser, once; that browser gets a cookie. What changes anything also needs
the key of the page itself, from a page of this server: so no other page, window or program gets in by the cookie alone.
"""

from __future__ import annotations

import json
import socket
import time
from contextlib import suppress
from hmac import compare_digest
from http.cookies import CookieError, SimpleCookie
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from secrets import token_urlsafe
from threading import BoundedSemaphore, Lock, Thread
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

from netlister.report.live import PAGE_KEY, PAGE_VERSION
from netlister.source import UnusableError
from netlister.workbench.model import AskError, SameError, StaleError

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.workbench.desk import Desk

LOOPBACK = "127.0.0.1"
HTML, TEXT, JSON = "text/html; charset=utf-8", "text/plain; charset=utf-8", "application/json"

MOST_BODY = 16 * 1024
"""Bytes that a page may send at once."""

MOST_SOCKETS = 100
"""Connections at a time; more are closed at once."""

IDLE = 5.0
"""Seconds that a connection may be silent."""

LONGEST = 60.0
"""Seconds that a connection may last; a search for a wiring is over before."""

BURST, PER_SECOND = 40.0, 20.0
"""Changes that may be asked for at once, and in the long run."""

KEY_PLACE, VERSION_PLACE = PAGE_KEY.encode(), PAGE_VERSION.encode()

NO_KEY = (
    "This page opens by the last address that 'netlister watch' printed in the terminal, and each of these addresses "
    "opens it in one browser, once. Open that. (Where this comes back, let your browser keep cookies of 127.0.0.1.)"
)


class Served:
    """The page as it is now, with a version that no other page of any run has."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._page = b""
        self._version = b""

    def show(self, page: str) -> None:
        """Put a page in place of the one before."""
        with self._lock:
            self._page = page.encode("utf-8", "replace")
            self._version = str(time.time_ns()).encode()

    def page(self, key: str) -> bytes:
        """The page, told its key and its version."""
        with self._lock:
            return self._page.replace(KEY_PLACE, key.encode(), 1).replace(VERSION_PLACE, self._version, 1)

    @property
    def version(self) -> bytes:
        """The version of the page."""
        with self._lock:
            return self._version


class Server:
    """Serves a page on a port of 127.0.0.1 until it is stopped. Port 0: any that is free. Raises OSError.

    `desk`: what changes the file, where that is allowed. `tell`: told in words what the user should see.
    """

    def __init__(
        self, served: Served, port: int = 0, desk: Desk | None = None, tell: Callable[[str], None] = lambda _: None
    ) -> None:
        self._server = _Listener((LOOPBACK, port), served, desk, tell)
        self._thread = Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
        self._thread.start()

    def address(self) -> str:
        """A new address of the page, which opens it once."""
        return self._server.new_address()

    def stop(self) -> None:
        """End the server and give its port back."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Listener(ThreadingHTTPServer):
    daemon_threads = True
    request_queue_size = 64

    def __init__(
        self, address: tuple[str, int], served: Served, desk: Desk | None, tell: Callable[[str], None]
    ) -> None:
        self.served = served
        self.desk = desk
        self.tell = tell
        self.page_key = token_urlsafe(24)
        self.cookie = token_urlsafe(24)
        self.rate = Rate(BURST, PER_SECOND)
        self._unspent: set[str] = set()
        self._told = 0.0
        self._lock = Lock()
        self._free = BoundedSemaphore(MOST_SOCKETS)
        self._since: dict[socket.socket, float] = {}
        super().__init__(address, _Handler)

    @property
    def cookie_name(self) -> str:
        """The name of the cookie: browsers share cookies between the ports of a machine."""
        return f"netlister-{self.server_port}"

    def new_address(self) -> str:
        key = token_urlsafe(18)
        with self._lock:
            self._unspent.add(key)
        return f"http://{LOOPBACK}:{self.server_port}/?key={key}"

    def spend(self, key: str) -> bool:
        """Whether a key is good; it is no more from now on."""
        with self._lock:
            if key not in self._unspent:
                return False
            self._unspent.remove(key)
            return True

    def refused(self) -> None:
        """Tell of a new address, but not time after time: keys that were told and not used stay good."""
        with self._lock:
            now = time.monotonic()
            if self._unspent or (self._told and now - self._told < IDLE):
                return
            self._told = now
        self.tell(f"the page was asked for without its key; another browser opens it at {self.new_address()}")

    # -- connections

    def process_request(self, request: Any, client_address: Any) -> None:
        """Take a connection, or close it at once where there are too many."""
        if not self._free.acquire(blocking=False):
            self.shutdown_request(request)
            return
        with self._lock:
            self._since[request] = time.monotonic()
        super().process_request(request, client_address)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """Answer a connection and give its place back."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            with self._lock:
                self._since.pop(request, None)
            self._free.release()

    def service_actions(self) -> None:
        """Close connections that last too long."""
        with self._lock:
            late = time.monotonic() - LONGEST
            old = [one for one, since in self._since.items() if since < late]
        for one in old:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing: a connection that broke is no concern of the user."""


class Rate:
    """Lets so many through at once and so many per second after that."""

    def __init__(self, burst: float, per_second: float) -> None:
        self._left = self._burst = burst
        self._per_second = per_second
        self._last = time.monotonic()
        self._lock = Lock()

    def passes(self) -> bool:
        """Whether one more may pass now."""
        with self._lock:
            now = time.monotonic()
            self._left = min(self._burst, self._left + (now - self._last) * self._per_second)
            self._last = now
            if self._left < 1:
                return False
            self._left -= 1
            return True


class _RefusedError(Exception):
    """A request that is not answered: the status and why."""

    def __init__(self, status: int, why: str) -> None:
        super().__init__(why)
        self.status = status


class _Handler(BaseHTTPRequestHandler):
    server: _Listener
    server_version = "netlister"
    sys_version = ""
    timeout = IDLE

    def do_GET(self) -> None:
        """Answer with the page or its version; nothing else is there."""
        self._guarded(self._get)

    def do_HEAD(self) -> None:
        """The same without the page itself."""
        self._guarded(self._get)

    def do_POST(self) -> None:
        """Try, make or take back a change."""
        self._guarded(self._post)

    def _guarded(self, answer: Callable[[], None]) -> None:
        try:
            self._only_this_machine()
            answer()
        except _RefusedError as error:
            self._send(error.status, f"{error}\n".encode(), TEXT)
        except (ConnectionError, TimeoutError):
            self.close_connection = True

    def _only_this_machine(self) -> None:
        """Refuse what another name leads here, or a page from elsewhere sends."""
        hosts = {f"{LOOPBACK}:{self.server.server_port}", f"localhost:{self.server.server_port}"}
        if self.headers.get("Host") not in hosts:
            raise _RefusedError(403, "only for this machine, by its own address")
        origin = self.headers.get("Origin")
        if origin is not None and origin not in {f"http://{host}" for host in hosts}:
            raise _RefusedError(403, "only for the page itself")
        if self.headers.get("Sec-Fetch-Site", "none") not in {"same-origin", "none"}:
            raise _RefusedError(403, "only for the page itself")

    def _known(self) -> bool:
        """Whether the browser has the cookie."""
        found: SimpleCookie = SimpleCookie()
        with suppress(CookieError):
            found.load(self.headers.get("Cookie", ""))
        one = found.get(self.server.cookie_name)
        return one is not None and _same(one.value, self.server.cookie)

    def _get(self) -> None:
        where = urlsplit(self.path)
        if where.path not in {"/", "/version"}:
            raise _RefusedError(404, "nothing is here")
        more = {}
        if not self._known():
            key = parse_qs(where.query).get("key", [""])[0]
            if where.path != "/" or self.command != "GET" or not self.server.spend(key):
                if where.path == "/":
                    self.server.refused()
                raise _RefusedError(403, NO_KEY)
            more["Set-Cookie"] = f"{self.server.cookie_name}={self.server.cookie}; HttpOnly; SameSite=Strict; Path=/"
        served = self.server.served
        if where.path == "/":
            self._send(200, served.page(self.server.page_key), HTML, more)
        else:
            self._send(200, served.version, TEXT)

    def _post(self) -> None:
        desk = self.server.desk
        if desk is None:
            raise _RefusedError(405, "this page only shows; 'netlister watch --edit' lets it change the file")
        if self.path != "/desk":
            raise _RefusedError(404, "nothing is here")
        if self.headers.get("Origin") is None:
            raise _RefusedError(403, "only for the page itself")
        if not self._known() or not _same(self.headers.get("X-Page-Key", ""), self.server.page_key):
            raise _RefusedError(403, NO_KEY)
        if self.headers.get_content_type() != JSON:
            raise _RefusedError(415, "JSON is due here")
        fields = self._body()
        if not self.server.rate.passes():
            raise _RefusedError(429, "Too much is asked for at once; wait a moment.")
        self._send(200, json.dumps(self._answered(desk, fields)).encode(), JSON)

    def _answered(self, desk: Desk, fields: dict[str, Any]) -> dict[str, Any]:
        try:
            return desk.answer(fields)
        except StaleError as error:
            return {"refused": str(error), "stale": True}
        except AskError as error:
            return {"refused": str(error), "same": isinstance(error, SameError)}
        except (UnusableError, MemoryError, RecursionError) as error:
            return {"refused": f"Nothing was written: {error}"}
        except Exception as error:  # noqa: BLE001 - whatever it was, the file is as it is and the page must know
            self.server.tell(f"a change failed and nothing was written: {type(error).__name__}: {error}")
            return {"refused": "Nothing was written: this change failed. Make it by hand."}

    def _body(self) -> dict[str, Any]:
        size = self.headers.get("Content-Length", "")
        if not size.isascii() or not size.isdigit() or "Transfer-Encoding" in self.headers:
            raise _RefusedError(411, "say how long it is")
        if int(size[:12]) > MOST_BODY:
            raise _RefusedError(413, "that is too long")
        try:
            read = json.loads(self.rfile.read(int(size)))
        except (ValueError, RecursionError):
            raise _RefusedError(400, "this is no JSON") from None
        if not isinstance(read, dict):
            raise _RefusedError(400, "a JSON object is due here")
        return read

    def _send(self, status: int, body: bytes, kind: str, more: dict[str, str] | None = None) -> None:
        self.send_response(status)
        for name, value in (more or {}).items():
            self.send_header(name, value)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Cache-Control", "no-store")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("X-Frame-Options", "DENY")
        self.send_header("Cross-Origin-Resource-Policy", "same-origin")
        self.send_header("Referrer-Policy", "no-referrer")
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002
        """Say nothing of requests."""


def _same(one: str, other: str) -> bool:
    """Whether two secrets are one, in a time that says nothing of them."""
    return compare_digest(one.encode("utf-8", "replace"), other.encode("utf-8", "replace"))
