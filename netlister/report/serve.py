"""A server of one page, for this machine alone: 127.0.0.1, no files, nothing written."""

from __future__ import annotations

import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Lock, Thread

LOOPBACK = "127.0.0.1"
TYPES = {"/": "text/html; charset=utf-8", "/version": "text/plain; charset=utf-8"}


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

    def at(self, path: str) -> bytes | None:
        """What is at a path, or None."""
        with self._lock:
            return {"/": self._page, "/version": self._version}.get(path)


class Server:
    """Serves a page on a port of 127.0.0.1 until it is stopped. Port 0: any that is free. Raises OSError."""

    def __init__(self, served: Served, port: int = 0) -> None:
        self._server = _Server((LOOPBACK, port), _Handler, served)
        self._thread = Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
        self._thread.start()

    @property
    def address(self) -> str:
        """Where the page is."""
        return f"http://{LOOPBACK}:{self._server.server_port}/"

    def stop(self) -> None:
        """End the server and give its port back."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def __init__(self, address: tuple[str, int], handler: type[BaseHTTPRequestHandler], served: Served) -> None:
        self.served = served
        super().__init__(address, handler)


class _Handler(BaseHTTPRequestHandler):
    server: _Server
    server_version = "netlister"
    sys_version = ""

    def do_GET(self) -> None:
        """Answer with the page or its version; nothing else is there."""
        self._answer(body=True)

    def do_HEAD(self) -> None:
        """The same without the page itself."""
        self._answer(body=False)

    def _answer(self, *, body: bool) -> None:
        port = self.server.server_port
        if self.headers.get("Host") not in {f"{LOOPBACK}:{port}", f"localhost:{port}"}:
            self.send_error(403, "only for this machine, by its own address")  # a foreign name that leads here
            return
        path = self.path.split("?")[0]
        found = self.server.served.at(path)
        if found is None:
            self.send_error(404)
            return
        self.send_response(200)
        self.send_header("Content-Type", TYPES[path])
        self.send_header("Content-Length", str(len(found)))
        self.send_header("Cache-Control", "no-store")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("X-Frame-Options", "DENY")
        self.send_header("Cross-Origin-Resource-Policy", "same-origin")
        self.end_headers()
        if body:
            self.wfile.write(found)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002
        """Say nothing of requests."""
