"""The look-up of known vulnerabilities fails for one that is known, and never for want of a network."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

SCRIPT = Path(__file__).parents[2] / ".ci" / "vulnerable.py"


def told(service: str) -> tuple[int, str]:
    env = os.environ | {"CORNERSTOP_OSV": service, "NO_PROXY": "*", "no_proxy": "*"}
    done = subprocess.run([sys.executable, SCRIPT], capture_output=True, text=True, env=env, timeout=60)
    return done.returncode, done.stdout + done.stderr


def answered(vulnerable: str) -> tuple[int, str, list[Any]]:
    """What is said where a service knows of a vulnerability in one package, and what it was asked."""
    asked: list[Any] = []

    class Service(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked.extend(json.loads(self.rfile.read(int(self.headers["Content-Length"])))["queries"])
            names = [query["package"]["name"] for query in asked]
            results = [{"vulns": [{"id": "PYSEC-1"}]} if name == vulnerable else {} for name in names]
            self.send_response(200)
            self.end_headers()
            self.wfile.write(json.dumps({"results": results}).encode())

        def log_message(self, *_: object) -> None:
            """Nothing."""

    with HTTPServer(("127.0.0.1", 0), Service) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        code, words = told(f"http://127.0.0.1:{server.server_port}/")
        server.shutdown()
    return code, words, asked


def test_a_known_vulnerability_fails() -> None:
    code, words, asked = answered("jinja2")
    assert code == 1 and "jinja2 " in words and "PYSEC-1" in words
    assert {"pandas", "pillow", "lxml"} <= {query["package"]["name"] for query in asked}
    assert all(query["version"] and query["package"]["ecosystem"] == "PyPI" for query in asked)


def test_none_is_well() -> None:
    code, words, asked = answered("")
    assert code == 0 and words == f"0 of {len(asked)} locked packages have a known vulnerability\n"


def test_without_an_answer_it_is_skipped_with_a_line() -> None:
    code, words = told("http://127.0.0.1:9/")
    assert code == 0 and "not looked up, skipped: " in words
