"""The server: what it answers to whom, and what it holds out."""

from __future__ import annotations

import http.client
import json
import socket
import threading
import time
from contextlib import suppress

import pytest

from netlister.workbench import serve
from netlister.workbench.serve import Served, Server
from tests.workbench.desks import YARD, desk_on

PAGE = '<meta name="page-key" content="@page-key@"><meta name="page-version" content="@page-version@">@page-key@'


class Client:
    """A browser in a few lines: keeps the cookie that it was given."""

    def __init__(self, server):
        self.server = server
        self.address = server.address()
        self.port = int(self.address.split(":")[2].split("/")[0])
        self.cookie = ""
        self.key = ""

    def ask(self, method, path, body=None, **headers):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        sent = {"Cookie": self.cookie} if self.cookie else {}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        connection.request(method, path, body, {k: v for k, v in sent.items() if v is not None})
        answer = connection.getresponse()
        text = answer.read()
        connection.close()
        return answer, text

    def open(self, address=""):
        answer, text = self.ask("GET", "/" + (address or self.address).split("/", 3)[3])
        if answer.status == 200:
            self.cookie = answer.getheader("Set-Cookie").split(";")[0]
            self.key = text.decode().split('page-key" content="')[1].split('"')[0]
        return answer, text

    def post(self, fields, **headers):
        body = fields if isinstance(fields, bytes) else json.dumps(fields).encode()
        whole = {"Origin": f"http://127.0.0.1:{self.port}", "X-Page-Key": self.key, "Content-Type": "application/json"}
        answer, text = self.ask("POST", "/desk", body, **(whole | headers))
        return answer.status, json.loads(text) if answer.status == 200 else text.decode()


@pytest.fixture
def served(tmp_path):
    desk, file = desk_on(tmp_path)
    told = []
    page = Served()
    page.show(PAGE)
    server = Server(page, 0, desk, told.append)
    yield Client(server), desk, file, told
    server.stop()


def test_an_address_opens_the_page_once(served):
    client, _, _, told = served
    assert client.ask("GET", "/")[0].status == 403
    assert told == []  # the address that was printed is good still
    answer, text = client.open()
    assert answer.status == 200
    assert "HttpOnly" in answer.getheader("Set-Cookie")
    assert "SameSite=Strict" in answer.getheader("Set-Cookie")
    assert client.key not in {"", "@page-key@"}
    assert text.count(client.key.encode()) == 1  # what a layout says cannot ask for the key
    assert client.ask("GET", "/")[0].status == 200  # with the cookie
    assert client.ask("GET", "/version")[0].status == 200
    other = Client(client.server)
    answer, text = other.open(client.address)
    assert answer.status == 403
    assert b"terminal" in text
    assert other.open()[0].status == 200  # by its own address
    third = Client.__new__(Client)
    third.server, third.port, third.cookie, third.key = client.server, client.port, "", ""
    assert third.ask("GET", "/")[0].status == 403
    assert len(told) == 1
    third.address = told[0].split()[-1]
    assert third.open()[0].status == 200


def test_only_its_own_page_changes_the_file(served):
    client, desk, file, _ = served
    client.open()
    swap = {"version": desk.version, "what": "make", "ask": {"do": "swap-throws", "contact": 0}}
    port = client.port
    refused = [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": None},
        {"Origin": f"http://127.0.0.1:{port + 1}"},
        {"Origin": f"https://127.0.0.1:{port}"},
        {"Host": "elsewhere.example"},
        {"Host": f"127.0.0.1.elsewhere.example:{port}"},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
        {"X-Page-Key": ""},
        {"X-Page-Key": "wrong"},
        {"X-Page-Key": "ü"},
        {"Cookie": ""},
        {"Cookie": f"netlister-{port}=wrong"},
        {"Cookie": "=;;;\\x00"},
    ]
    for headers in refused:
        sent = {k.replace("_", "-"): v for k, v in headers.items()}
        assert client.post(swap, **sent)[0] == 403, headers
    assert client.post(swap, **{"Content-Type": "text/plain"})[0] == 415
    assert client.post(swap, **{"Content-Type": "application/x-www-form-urlencoded"})[0] == 415
    assert client.post(b"[" * 5000)[0] == 400
    assert client.post(b"\xff\xfe")[0] == 400
    assert client.post([1])[0] == 400
    assert client.post(b" " * (serve.MOST_BODY + 1))[0] == 413
    assert client.post(swap, **{"Content-Length": "-1"})[0] == 411
    assert client.post(swap, **{"Content-Length": "9" * 5000})[0] in {411, 413}
    for path in ("/desk/", "/layout.yaml", "/../layout.yaml", "/%2e%2e/layout.yaml", "//etc/passwd"):
        assert client.ask("GET", path)[0].status in {403, 404}
    for method in ("PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"):
        assert client.ask(method, "/desk")[0].status == 501
    assert file.read_text() == YARD
    status, answer = client.post(swap)
    assert (status, answer["written"]) == (200, True)
    assert file.read_text() != YARD


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"what": "try"},
        {"what": "make", "ask": "all"},
        {"what": ["try"], "ask": {}},
        {"what": "try", "ask": {"do": "insulate", "joint": 1e400, "insulate": {}}},
        {"what": "try", "ask": {"do": "mend", "cause": {}, "repair": []}},
        {"what": "try", "ask": {"do": "rename", "old": None, "new": "\u202e"}},
        {"what": "try", "ask": {"do": "add-piece", "at": "T2.diverging", "name": "x", "kind": "../../etc/passwd"}},
        {"what": "make", "ask": {"do": "set-piece", "piece": "line", "key": "length", "value": "1 m}, x: {kind: y"}},
        {"what": "make", "ask": {"do": "set-piece", "piece": "T2", "key": "use", "value": "/etc/passwd"}},
    ],
)
def test_nothing_that_a_page_sends_does_harm(fields, served):
    client, desk, file, told = served
    client.open()
    status, answer = client.post({"version": desk.version, **fields})
    assert status == 200
    assert answer["refused"]
    assert told == []  # refused in words, not by chance
    assert file.read_text() == YARD


def test_without_a_desk_nothing_is_written(tmp_path):
    page = Served()
    page.show(PAGE)
    server = Server(page)
    client = Client(server)
    client.open()
    status, text = client.post({"what": "undo"})
    assert status == 405
    assert "--edit" in text
    server.stop()


def test_too_much_at_once(served):
    client, desk, _, _ = served
    client.open()
    found = {client.post({"version": desk.version, "what": "undo"})[0] for _ in range(int(serve.BURST) + 40)}
    assert found == {200, 429}


def test_silent_connections_time_out(served, monkeypatch):
    client, *_ = served
    monkeypatch.setattr(serve._Handler, "timeout", 0.3)
    with socket.create_connection(("127.0.0.1", client.port)) as idle:
        idle.settimeout(10)
        assert idle.recv(1) == b""
    with socket.create_connection(("127.0.0.1", client.port)) as half:
        half.settimeout(10)
        half.sendall(b"POST /desk HTTP/1.1\r\nContent-Le")
        assert half.recv(1) == b""


def test_connections_that_trickle_end(served, monkeypatch):
    client, *_ = served
    monkeypatch.setattr(serve, "LONGEST", 0.5)
    with socket.create_connection(("127.0.0.1", client.port)) as slow:
        slow.settimeout(10)
        start = time.monotonic()
        with suppress(OSError):
            while time.monotonic() < start + 10:
                slow.sendall(b"x")
                time.sleep(0.1)
        assert time.monotonic() < start + 10


def test_thousands_of_connections(served, capfd):
    """Two thousand at once that say nothing, and the page comes again when they are gone; nothing in the terminal."""
    client, *_ = served
    client.open()
    held = []
    for _ in range(2000):
        one = socket.socket()
        one.setblocking(False)
        one.connect_ex(("127.0.0.1", client.port))
        held.append(one)
        if len(held) > 400:
            held.pop(0).close()
    threads = threading.active_count()
    for one in held:
        one.close()
    assert threads < serve.MOST_SOCKETS + 20
    end = time.monotonic() + 20
    while True:
        try:
            if client.ask("GET", "/version")[0].status == 200:
                break
        except OSError:
            assert time.monotonic() < end
            time.sleep(0.2)
    assert capfd.readouterr().err == ""
