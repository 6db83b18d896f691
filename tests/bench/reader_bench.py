"""How many readers one plain file server serves: a published trip read, carried, and come back to.

    python -m tests.bench.reader_bench [READERS]

10,000 readers (or READERS) on loopback, so many at a time: each opens a connection of her own and fetches
what a browser fetches. nginx serves the folder where it is to be had (on PATH, or $NGINX), with each file
packed once as hosts do; else Python's own file server does, unpacked and for few at a time. A tenth of the
readers go on to carry the trip. No server of ours takes part. Asker and server share the machine's cores, so
these figures are a floor.
"""

from __future__ import annotations

import asyncio
import gzip
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable, Sequence
from pathlib import Path

import msgspec

from tests.bench.machine import machine, percentile, table
from tests.browser.reader import SLUG, put_out
from tests.served import free_port

READERS = 10_000
AT_A_TIME = 100
FEW_AT_A_TIME = 4  # Python's file server lets five wait
MOST_SECONDS = 60  # for each kind of visit; what is not done by then is not counted
START_SECONDS = 20
ARTICLE = f"/deals/trips/{SLUG}/index.html"
PACKED = {".html", ".js", ".mjs", ".css", ".json", ".wasm", ".svg", ".xml", ".webmanifest"}
MEASURES = ("visits", "failed", "visits/s", "requests/s", "MB/s", "p50 ms", "p95 ms", "p99 ms", "KB a visit")

NGINX = """
{user}
worker_processes 1;
daemon off;
pid {folder}/nginx.pid;
error_log {folder}/error.log;
events {{ worker_connections 4096; }}
http {{
  access_log off;
  sendfile on;
  gzip_static on;
  keepalive_requests 1000;
  client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy; fastcgi_temp_path {folder}/fastcgi;
  uwsgi_temp_path {folder}/uwsgi; scgi_temp_path {folder}/scgi;
  types {{
    text/html html; text/css css; text/javascript js mjs; application/json json; application/wasm wasm;
    image/svg+xml svg; image/png png; application/manifest+json webmanifest; application/atom+xml xml;
  }}
  server {{ listen 127.0.0.1:{port} backlog=4096; root {root}; }}
}}
"""


class Visit(msgspec.Struct):
    """One reader's visit: milliseconds, bytes received (heads included), requests; ``ok``: as expected."""

    ms: float
    received: int
    requests: int
    ok: bool


class Server:
    """nginx, or Python's own file server, over a folder."""

    def __init__(self, root: Path, work: Path) -> None:
        self.port = free_port()
        nginx = os.environ.get("NGINX") or shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
        if nginx:
            config = work / "nginx.conf"
            # Started by root, its worker would be nobody, who may not read a passing folder.
            user = "user root;" if os.geteuid() == 0 else ""
            config.write_text(NGINX.format(user=user, folder=work, port=self.port, root=root))
            _pack(root)
            command = [nginx, "-c", str(config), "-p", str(work), "-e", str(work / "error.log")]
            said = subprocess.run([nginx, "-v"], capture_output=True, text=True, check=True).stderr
            self.name, self.at_a_time = f"{said.strip().rpartition(' ')[2]}, 1 worker", AT_A_TIME
        else:
            command = [sys.executable, "-m", "http.server", str(self.port), "--bind", "127.0.0.1"]
            command += ["--directory", str(root), "--protocol", "HTTP/1.1"]
            self.name, self.at_a_time = "Python's http.server", FEW_AT_A_TIME
        self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self._wait()

    def _wait(self) -> None:
        until = time.monotonic() + START_SECONDS
        while time.monotonic() < until:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            if self._process.poll() is not None:
                break
            time.sleep(0.05)
        raise SystemExit(f"the file server did not open (it ended with {self._process.poll()})")

    def memory_mb(self) -> float:
        """Resident memory of the server and what it started."""
        pids = [self._process.pid]
        children = Path(f"/proc/{pids[0]}/task/{pids[0]}/children")
        if children.exists():
            pids += [int(pid) for pid in children.read_text().split()]
        total = 0
        for pid in pids:
            for line in Path(f"/proc/{pid}/status").read_text().splitlines():
                if line.startswith("VmRSS:"):
                    total += int(line.split()[1])
        return total / 1024

    def stop(self) -> None:
        self._process.terminate()
        try:
            self._process.wait(START_SECONDS)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(START_SECONDS)


def _pack(root: Path) -> None:
    for path in sorted(root.rglob("*")):
        if path.suffix in PACKED and path.stat().st_size > 1_000:
            path.with_name(f"{path.name}.gz").write_bytes(gzip.compress(path.read_bytes(), 9, mtime=0))


class Line:
    """One reader's connection, opened anew where the server closes it."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._streams: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
        self.received = 0

    async def get(self, path: str, etag: str = "") -> tuple[int, str]:
        """The status and the ETag of a path. Raises OSError or EOFError where the line breaks."""
        if self._streams is None:
            self._streams = await asyncio.open_connection("127.0.0.1", self._port, limit=1 << 20)
        reader, writer = self._streams
        known = f"If-None-Match: {etag}\r\n" if etag else ""
        writer.write(
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAccept-Encoding: gzip\r\n{known}\r\n".encode()
        )
        head = await reader.readuntil(b"\r\n\r\n")
        status = int(head[9:12])
        lines = (line.lower().partition(b": ") for line in head.split(b"\r\n")[1:-2])
        fields = {name: value for name, _, value in lines}
        length = int(fields.get(b"content-length", b"0")) if status != 304 else 0
        body = await reader.readexactly(length)
        self.received += len(head) + len(body)
        if fields.get(b"connection") == b"close":
            await self.close()
        return status, fields.get(b"etag", b"").decode()

    async def close(self) -> None:
        if self._streams is not None:
            self._streams[1].close()
            self._streams = None


async def visit(port: int, paths: Sequence[str], etags: dict[str, str], expect: int) -> Visit:
    """Fetches all paths on one line, in order."""
    line = Line(port)
    began = time.perf_counter()
    ok = True
    try:
        for path in paths:
            status, _ = await line.get(path, etags.get(path, ""))
            ok = ok and status == expect
    except (OSError, EOFError, ValueError):
        ok = False
    finally:
        await line.close()
    return Visit(ms=(time.perf_counter() - began) * 1000, received=line.received, requests=len(paths), ok=ok)


async def crowd(count: int, at_a_time: int, one: Callable[[], Awaitable[Visit]]) -> tuple[list[Visit], float]:
    """So many visits, so many at a time; the visits that were made, and the seconds it took."""
    made: list[Visit] = []
    left = [count]
    began = time.monotonic()

    async def readers() -> None:
        while left[0] and time.monotonic() - began < MOST_SECONDS:
            left[0] -= 1
            made.append(await one())

    await asyncio.gather(*(readers() for _ in range(min(at_a_time, count))))
    return made, time.monotonic() - began


def row(name: str, visits: list[Visit], seconds: float) -> tuple[object, ...]:
    times = [each.ms for each in visits]
    received = sum(each.received for each in visits)
    return (
        name,
        len(visits),
        sum(not each.ok for each in visits),
        f"{len(visits) / seconds:.0f}",
        f"{sum(each.requests for each in visits) / seconds:.0f}",
        f"{received / seconds / 1e6:.1f}",
        *(f"{percentile(times, part):.1f}" for part in (0.5, 0.95, 0.99)),
        f"{received / len(visits) / 1000:.1f}",
    )


async def measure(server: Server, root: Path, readers: int) -> list[tuple[object, ...]]:
    """Reading for the first time, coming back, carrying for the first time, carrying again."""
    style = next((root / "deals" / "styles").glob("*.css")).name
    reading = [ARTICLE, f"/deals/styles/{style}", "/deals/icons/icon.svg", "/deals/manifest.webmanifest"]
    app = json.loads((root / "deals" / "site.json").read_bytes())["app"]
    kept = json.loads((root / "deals" / "app" / app / "files.json").read_bytes())["files"]
    carrying = [
        "/deals/sw.js",
        "/deals/site.json",
        f"/deals/trips/{SLUG}/trip.json",
        f"/deals/app/{app}/files.json",
    ]
    first = [*carrying, *(f"/deals/{file['url']}" for file in kept)]
    line = Line(server.port)
    etags = {path: (await line.get(path))[1] for path in {*reading, *carrying}}
    await line.close()
    again = 304 if all(etags.values()) else 200
    kinds: list[tuple[str, int, list[str], dict[str, str], int]] = [
        ("read for the first time", readers, reading, {}, 200),
        ("read again, unchanged", readers, reading, etags, again),
        ("carry for the first time", readers // 10, first, {}, 200),
        ("carry again", readers // 10, carrying[1:3], etags, again),
    ]
    rows: list[tuple[object, ...]] = []
    for name, count, paths, known, expect in kinds:

        async def one(paths: list[str] = paths, known: dict[str, str] = known, expect: int = expect) -> Visit:
            return await visit(server.port, paths, known, expect)

        rows.append(row(name, *await crowd(count, server.at_a_time, one)))
    return rows


def main(readers: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        work, root = Path(folder) / "work", Path(folder) / "host"
        work.mkdir()
        root.mkdir()
        put_out(root / "deals")
        plain = sum(path.stat().st_size for path in root.rglob("*") if path.is_file())
        server = Server(root, work)
        try:
            before = server.memory_mb()
            rows = asyncio.run(measure(server, root, readers))
            after = server.memory_mb()
        finally:
            server.stop()
    print(machine())
    print(f"{server.name} over a folder of {plain / 1e6:.1f} MB, {server.at_a_time} readers at a time:")
    print(table(("visit", *MEASURES), rows))
    print(f"Memory of the file server: {before:.1f} MB before, {after:.1f} MB after.")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else READERS)
