"""Servers under test, each on a free port of its own.

``Static`` serves the checkout's files as they are, for tests of modules in the browser.
``Running`` is ``counterfoil serve`` (or ``demo``) in a process of its own, as a user starts it, which can be
stopped and started again on the same port and data, and which says why it died when it dies early. ``Warm``
is the same for tests that start many.
"""

from __future__ import annotations

import http.server
import multiprocessing
import os
import queue
import re
import socket
import subprocess
import sys
import threading
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import IO, Protocol

ROOT = Path(__file__).resolve().parent.parent
START_SECONDS = 60
STOP_SECONDS = 20


class _Files(http.server.SimpleHTTPRequestHandler):
    """Files with the types that a browser insists on for modules, workers and WebAssembly."""

    extensions_map = {
        **http.server.SimpleHTTPRequestHandler.extensions_map,
        ".js": "text/javascript",
        ".mjs": "text/javascript",
        ".wasm": "application/wasm",
        ".json": "application/json",
        ".webmanifest": "application/manifest+json",
        ".css": "text/css",
        ".svg": "image/svg+xml",
    }

    def end_headers(self) -> None:
        self.send_header("Cache-Control", "no-store")
        super().end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Keeps quiet: a failing test says what it asked for."""


class Static:
    """A file server for the checkout: ``/web/engine/money.js`` as the real server has it, and
    ``/tests/vectors/...`` beside it. ``url`` has no slash at its end."""

    def __init__(self, folder: Path = ROOT) -> None:
        def handler(*args: object) -> _Files:
            return _Files(*args, directory=str(folder))  # type: ignore[arg-type]  # socketserver's own three

        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)
        self._thread.start()
        self.url = f"http://127.0.0.1:{self._server.server_port}"

    def stop(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(STOP_SECONDS)


def free_port() -> int:
    """A port that nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Process(Protocol):
    """What is asked of a server's process, as ``subprocess.Popen`` has it."""

    @property
    def pid(self) -> int: ...

    def terminate(self) -> None: ...

    def kill(self) -> None: ...

    def wait(self, timeout: float) -> int: ...


class Running:
    """``counterfoil COMMAND`` on ``port`` with its data under ``data``; ``start`` waits until it answers."""

    def __init__(self, data: Path, command: str = "serve", port: int | None = None) -> None:
        self.data = data
        self.command = command
        self.port = port or free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._process: Process | None = None
        self._lines: list[str] = []

    @property
    def pid(self) -> int:
        """The server's process, while it runs."""
        assert self._process is not None, "not running"
        return self._process.pid

    @property
    def output(self) -> str:
        """Everything that the server has printed so far."""
        return "".join(self._lines)

    def start(self) -> Running:
        """Starts the server; raises AssertionError with its whole output when it ends before it is open."""
        assert self._process is None, "already running"
        arguments = [self.command, "--host", "127.0.0.1", "--port", str(self.port)]
        if self.command == "serve":
            arguments.append("--trust-this-machine")  # pairing has tests of its own, in tests/server
        process, output = self._launch([*arguments, "--data", str(self.data)])
        self._process = process
        news: queue.Queue[str | None] = queue.Queue()
        threading.Thread(target=self._listen, args=(output, news), daemon=True).start()
        while True:
            try:
                line = news.get(timeout=START_SECONDS)
            except queue.Empty:
                self.stop()
                raise AssertionError(
                    f"the server did not open in {START_SECONDS} s:\n{self.output}"
                ) from None
            if line is None:
                code = process.wait(STOP_SECONDS)
                self._process = None
                raise AssertionError(f"the server ended early with {code}:\n{self.output}")
            if re.search(rf"open at http://\S+:{self.port}\b", line):
                return self

    def stop(self) -> None:
        """Stops the server as a user's Ctrl-C would; a second call does nothing."""
        process, self._process = self._process, None
        if process is None:
            return
        process.terminate()
        try:
            process.wait(STOP_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(STOP_SECONDS)

    def _launch(self, arguments: list[str]) -> tuple[Process, IO[str]]:
        """The process that runs ``counterfoil`` with the arguments, and what it prints."""
        process = subprocess.Popen(
            [sys.executable, "-m", "counterfoil", *arguments],
            cwd=self.data.parent,
            env=os.environ | {"PYTHONPATH": str(ROOT / ".dev"), "PYTHONUNBUFFERED": "1"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert process.stdout is not None
        return process, process.stdout

    def _listen(self, output: IO[str], news: queue.Queue[str | None]) -> None:
        with output:
            for line in output:
                self._lines.append(line)
                news.put(line)
        news.put(None)


_READY = multiprocessing.get_context("forkserver")
_READY.set_forkserver_preload(["tests.preloaded", "tests.served"])


class Warm(Running):
    """The same server, forked from a process made ready (``tests/preloaded.py``), most of its start."""

    def _launch(self, arguments: list[str]) -> tuple[Process, IO[str]]:
        heard, said = _READY.Pipe(duplex=False)
        # A daemon, so that a run that is cut short ends it and does not wait for it.
        process = _READY.Process(target=_run, args=(arguments, self.data.parent, said), daemon=True)
        process.start()
        said.close()
        with heard:
            return _Forked(process), os.fdopen(os.dup(heard.fileno()))


class _Forked:
    """A forked process as a ``Process``."""

    def __init__(self, process: BaseProcess) -> None:
        self._process = process
        self.terminate = process.terminate
        self.kill = process.kill

    @property
    def pid(self) -> int:
        assert self._process.pid is not None, "not started"
        return self._process.pid

    def wait(self, timeout: float) -> int:
        self._process.join(timeout)
        if self._process.exitcode is None:
            raise subprocess.TimeoutExpired(self._process.name, timeout)
        return self._process.exitcode


def _run(arguments: list[str], folder: Path, said: Connection) -> None:
    """Runs ``counterfoil`` in ``folder``; what it prints is ``said``."""
    from counterfoil.cli import main

    os.chdir(folder)
    for stream in (sys.stdout, sys.stderr):
        os.dup2(said.fileno(), stream.fileno())
    sys.exit(main(arguments))
