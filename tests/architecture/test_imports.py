"""What a check must not import, and where things may be imported from."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]

PROBE = """
import sys
from netlister.cli.main import group
try:
    group(["check", "--quiet", sys.argv[1]], standalone_mode=False)
except SystemExit:
    pass
print("\\n".join(sorted(sys.modules)))
"""


def test_check_imports_nothing_heavy(tmp_path):
    layout = tmp_path / "layout.yaml"
    layout.write_text(
        "format: netlister/1\nsupplies: {m: {type: dcc, voltage: 15 V}}\ntrack: {a: {length: 1 m}}\n"
        "feeds: [{to: a, A: left, B: left}]\n"
    )
    done = subprocess.run([sys.executable, "-c", PROBE, str(layout)], capture_output=True, text=True, check=True)
    loaded = {name.split(".")[0] for name in done.stdout.split()}
    assert "netlister" in loaded
    assert not loaded & {"skidl", "matplotlib", "scipy", "numpy", "networkx", "rich", "pydantic", "jinja2"}


NETWORK = {"socket", "socketserver", "ssl", "urllib", "http", "requests", "ftplib", "smtplib", "asyncio"}


def test_no_file_reaches_for_the_network():
    """No module imports what reaches out. One may serve, on the loopback address alone; one talks to an editor."""
    serving = []
    for path in (ROOT / "netlister").rglob("*.py"):
        found = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                found.add(node.module.split(".")[0])
        if found & NETWORK:
            serving.append((path.relative_to(ROOT).as_posix(), sorted(found & NETWORK)))
    assert sorted(serving) == [
        ("netlister/editor/server.py", ["asyncio"]),  # on standard input and output
        ("netlister/workbench/serve.py", ["http", "socket", "urllib"]),
    ]
    server = (ROOT / "netlister/cli/serve.py").read_text(encoding="utf-8")
    assert ".start_io()" in server
    assert not re.search(
        r"start_(tcp|ws)|asyncio\.(open|start)_",
        server + _text("netlister/editor/server.py") + _text("netlister/editor/features.py"),
    )
    text = _text("netlister/workbench/serve.py")
    assert 'LOOPBACK = "127.0.0.1"' in text
    assert "http.client" not in text
    assert "urllib.request" not in text
    assert "socket.socket(" not in text
    assert "create_connection" not in text


def _text(path):
    return (ROOT / path).read_text(encoding="utf-8")


def test_the_public_face_is_small():
    assert len((ROOT / "netlister" / "__init__.py").read_text(encoding="utf-8").splitlines()) <= 60


def test_every_module_says_what_it_is_for():
    for path in (ROOT / "netlister").rglob("*.py"):
        assert path.read_text(encoding="utf-8").lstrip().startswith('"""'), path
