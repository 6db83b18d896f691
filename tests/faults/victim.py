"""A real server in a process of its own that can be killed like a machine that loses its power."""

from __future__ import annotations

import json
import os
import queue
import resource
import socket
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.served import ROOT, free_port

START_SECONDS = 60
ANSWER_SECONDS = 30


class Victim:
    """``counterfoil serve`` over ``data``; its files end at ``largest_file`` bytes (a full disk)."""

    def __init__(self, data: Path, largest_file: int | None = None) -> None:
        self.data = data
        self.port = free_port()
        self._largest_file = largest_file
        self._process: subprocess.Popen[str] | None = None

    def start(self) -> Victim:
        """Starts it and waits until it answers."""
        arguments = ["-m", "counterfoil", "serve", "--trust-this-machine", "--port", str(self.port)]
        process = subprocess.Popen(
            [sys.executable, *arguments, "--data", str(self.data)],
            env=os.environ | {"PYTHONPATH": str(ROOT / ".dev"), "PYTHONUNBUFFERED": "1"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            preexec_fn=self._limit(),
        )
        self._process = process
        lines: queue.Queue[str | None] = queue.Queue()
        threading.Thread(target=_read_on, args=(process, lines), daemon=True).start()
        said = ""
        while "open at" not in said:
            line = lines.get(timeout=START_SECONDS)
            assert line is not None, f"the server ended early:\n{said}"
            said += line
        return self

    def kill(self) -> None:
        """SIGKILL: no handler runs, nothing is flushed."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def post(self, path: str, document: Any) -> tuple[int, dict[str, str], Any]:
        """One request on a connection of its own: status, headers, document. OSError: cut."""
        return exchange(self.port, path, json.dumps(document).encode())

    def _limit(self) -> Callable[[], None] | None:
        most = self._largest_file
        if most is None:
            return None
        return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


def request_bytes(path: str, body: bytes) -> bytes:
    """A request as it goes over the wire."""
    head = (
        f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        f"Accept: application/json\r\nContent-Length: {len(body)}\r\nConnection: close\r\n\r\n"
    )
    return head.encode() + body


def exchange(port: int, path: str, body: bytes) -> tuple[int, dict[str, str], Any]:
    """Sends a request and reads its whole answer; ConnectionError if it is cut."""
    with socket.create_connection(("127.0.0.1", port), ANSWER_SECONDS) as connection:
        connection.sendall(request_bytes(path, body))
        return read_answer(connection)


def read_answer(connection: socket.socket) -> tuple[int, dict[str, str], Any]:
    """A whole answer, or ConnectionError: half of one is none."""
    parts: list[bytes] = []
    while part := connection.recv(65_536):
        parts.append(part)
    head, found, body = b"".join(parts).partition(b"\r\n\r\n")
    if not found:
        raise ConnectionResetError("no whole answer")
    first, *fields = head.decode("latin-1").split("\r\n")
    headers = {name.lower(): value.strip() for name, _, value in (field.partition(":") for field in fields)}
    if len(body) < int(headers.get("content-length", "0")):
        raise ConnectionResetError("half of an answer")
    return int(first.split()[1]), headers, json.loads(body)


def _read_on(process: subprocess.Popen[str], lines: queue.Queue[str | None]) -> None:
    assert process.stdout is not None
    for line in process.stdout:
        lines.put(line)
    lines.put(None)
