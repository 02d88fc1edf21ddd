"""`netlister watch` as a user sees it: a page that follows the file, on this machine alone."""

from __future__ import annotations

import http.client
import re
import signal
import socket
import subprocess
import sys
from threading import Timer

import pytest

from tests.browser.interrupt import started

RIGHT = """format: netlister/1
title: Slate wharf
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track: {line: {length: 900 mm}, spur: {length: 400 mm}, T1: {kind: live-frog, hand: right}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.diverging, to: spur, insulate: vee}
feeds: [{to: [line, spur]}]
"""


@pytest.fixture
def watching(tmp_path):
    file = tmp_path / "layout.yaml"
    file.write_text(RIGHT)
    command = [sys.executable, "-m", "netlister", "watch", "layout.yaml"]
    with started(command, cwd=tmp_path, stdout=subprocess.PIPE) as done:
        stop = Timer(60, done.kill)  # so that no line that never comes is waited for
        stop.start()
        said = ""
        while "Ctrl-C" not in said:
            line = done.stderr.readline()
            assert line, done.stdout.read()
            said += line
        stop.cancel()
        yield file, re.search(r"http://127\.0\.0\.1:(\d+)/\?key=\S+", said), done
        if done.poll() is None:
            done.send_signal(signal.SIGINT)
            done.communicate(timeout=10)


def test_the_page_follows_the_file(watching, chromium):
    file, address, done = watching
    page = chromium.new_page()
    complaints, hosts = [], set()
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: hosts.add(request.url.split("/")[2]))
    page.goto(address[0])
    page.wait_for_selector("html.ready")
    assert "Nothing wrong" in page.inner_text("header")
    page.locator("button.lever").press("Enter")
    page.wait_for_function("() => location.hash.includes('T1')")
    file.write_text(RIGHT.replace(", insulate: vee", ""))
    page.wait_for_function("() => document.querySelector('.findings')?.textContent.includes('pole-short')")
    assert "diverging" in page.locator("button.lever").text_content()  # the position outlives the reload
    file.write_text(RIGHT.replace("live-frog", "live-frock"))
    page.wait_for_function("() => document.querySelector('.banner')?.textContent.includes('cannot be used')")
    assert "live-frock" in page.inner_text(".banner")
    assert page.locator("#sheet svg.plan").count() == 1  # the last good plan
    file.write_text(RIGHT)
    page.wait_for_function("() => document.querySelector('header')?.textContent.includes('Nothing wrong')")
    assert complaints == []
    assert hosts == {f"127.0.0.1:{address[1]}"}
    page.close()
    done.send_signal(signal.SIGINT)
    out, err = done.communicate(timeout=10)
    assert done.returncode == 0
    assert "ended" in err
    assert "Traceback" not in err
    assert "pole-short" in out
    assert "live-frock" in out


def test_only_this_machine_and_only_the_page(watching):
    _, address, done = watching
    port = int(address[1])

    cookie = ""

    def ask(path, host=f"127.0.0.1:{port}"):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
        connection.request("GET", path, headers={"Host": host, "Cookie": cookie})
        answer = connection.getresponse()
        body = answer.read()
        connection.close()
        return answer, body

    assert ask("/")[0].status == 403  # without the key
    cookie = ask("/" + address[0].split("/", 3)[3])[0].getheader("Set-Cookie").split(";")[0]
    assert ask("/")[0].status == 200
    assert ask("/")[0].getheader("Cache-Control") == "no-store"
    assert ask("/", "elsewhere.example")[0].status == 403
    assert ask("/layout.yaml")[0].status == 404
    assert ask("/../layout.yaml")[0].status == 404
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)} - {"127.0.0.1"}
    for other in others:
        if not other.startswith("127."):
            with pytest.raises(OSError, match=r"refused|timed out|unreachable"):
                socket.create_connection((other, port), timeout=1)
    done.send_signal(signal.SIGINT)
    done.wait(timeout=30)
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), timeout=1)
