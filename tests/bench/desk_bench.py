"""How long the Desk's pages take over a household of years, by real HTTP on loopback.

    python -m tests.bench.desk_bench [--data FOLDER] [--small] [--times N]

The household (``years.py``): 1,500 products, 2,000 offers, tags of 260 weeks at 4 stores (1.5 million
prices), 260 trips that were walked. ``--data`` keeps it for the next run. Every page was asked, then the
server was started again and left alone until it rested: the first answer of each page after that stands in
the table by itself. Latency is from the request to the whole answer, over one connection that stays open,
unpacked. "CPU ms" is what the server itself worked for one answer (Linux counts it in hundredths of a
second): on a busy machine it says more than the latency.
"""

from __future__ import annotations

import argparse
import http.client
import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar
from urllib.parse import urlencode

from tests.bench.machine import machine, percentile, table
from tests.bench.years import TODAY, Sizes, make
from tests.served import Running

BUDGET_MS = 200
REST_SECONDS = 5  # longer than the server waits before it makes things ready
PAGES = (
    ("offers", "/desk/offers"),
    ("offers, page 5 of tags", "/desk/offers?kind=price&page=5"),
    ("offers, one coupon", "/desk/offers/coupon/coupon-010"),
    ("new coupon", "/desk/offers/coupon/new"),
    ("trips", "/desk"),
    ("trip", "/desk/trips/trip-100"),
    ("binder", "/desk/binder"),
    ("larder", "/desk/larder"),
    ("stock count", "/desk/larder/count"),
    ("price book", "/desk/larder/prices"),
    ("price book, product", "/desk/larder/prices/products/product-010-0"),
    ("price book, staple", "/desk/larder/prices/staples/want-010"),
    ("calendar", "/desk/calendar"),
    ("settle", "/desk/settle"),
    ("settle, trip", "/desk/trips/trip-100/settle"),
    ("reports", "/desk/reports"),
    ("new trip", "/desk/trips/new"),
    ("import", "/desk/offers/import"),
)
T = TypeVar("T")
ROWS_BROUGHT_IN = 2_000


class Desk:
    """A browser of the bench: one connection, the form's token, no script."""

    def __init__(self, server: Running) -> None:
        self._connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=120)
        self._stat = Path(f"/proc/{server.pid}/stat")
        self._cookie = ""
        self.token = ""
        self.get("/desk/devices")  # no page of the table

    def get(self, address: str) -> tuple[int, str]:
        """Status and body of a page."""
        return self._ask("GET", address, b"", "")

    def worked_ms(self) -> float:
        """Milliseconds that the server has worked since it started."""
        fields = self._stat.read_text().rpartition(") ")[2].split()
        return (int(fields[11]) + int(fields[12])) * 1000 / os.sysconf("SC_CLK_TCK")

    def post(self, address: str, body: bytes, kind: str) -> tuple[int, str]:
        """Status and the address that it leads to, or the body."""
        return self._ask("POST", address, body, kind)

    def _ask(self, method: str, address: str, body: bytes, kind: str) -> tuple[int, str]:
        headers = {"Accept": "text/html", "Cookie": self._cookie, "Accept-Encoding": "identity"}
        if method == "POST":
            headers |= {"Content-Type": kind, "X-CSRFToken": self.token, "Origin": self._origin}
        self._connection.request(method, address, body, headers)
        answer = self._connection.getresponse()
        content = answer.read().decode()
        for cookie in answer.headers.get_all("Set-Cookie") or ():
            if cookie.startswith("counterfoil-form="):
                self._cookie = cookie.partition(";")[0]
                self.token = self._cookie.partition("=")[2]
        return answer.status, answer.headers.get("Location") or content

    @property
    def _origin(self) -> str:
        return f"http://127.0.0.1:{self._connection.port}"


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--data", type=Path)
    options.add_argument("--small", action="store_true")
    options.add_argument("--times", type=int, default=30)
    chosen = options.parse_args()
    sizes = Sizes(150, 200, 4, 52, 26) if chosen.small else Sizes()
    print(machine())
    print(", ".join(f"{count:,} {name}" for name, count in sizes._asdict().items()))
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        if chosen.data is None:
            make(data, sizes)
        else:
            if not chosen.data.exists():
                make(chosen.data, sizes)
            shutil.copytree(chosen.data, data)
        server = Running(data)
        try:
            _opened(server)
            before = Desk(server)
            for _, address in PAGES:
                before.get(address)
            server.stop()
            _opened(server)
            began = time.perf_counter()
            worked = _at_rest(Desk(server))
            print(f"and rests {time.perf_counter() - began:.0f} s later, having worked {worked / 1000:.1f} s")
            print(_measured(Desk(server), chosen.times))
        finally:
            server.stop()


def _opened(server: Running) -> None:
    began = time.perf_counter()
    server.start()
    print(f"the server opens in {time.perf_counter() - began:.1f} s")


def _at_rest(desk: Desk) -> float:
    """Waits until the server has not worked for some seconds; what it worked since its start, in ms."""
    worked = -1.0
    while worked != (now := desk.worked_ms()):
        worked = now
        time.sleep(REST_SECONDS)
    return worked


def _measured(desk: Desk, times: int) -> str:
    rows = [_page(name, desk, address, times) for name, address in _pages(desk)]
    rows += [_search(desk), *_import(desk)]
    head = ("", "asked", "first ms", "p50 ms", "p95 ms", "p99 ms", "CPU ms", "KB", f"p95 in {BUDGET_MS} ms")
    return table(head, rows)


def _pages(desk: Desk) -> list[tuple[str, str]]:
    day = TODAY.isoformat()
    body = urlencode({"title": "The next week", "day": day, "stores": "store-0", "_csrf_token": desk.token})
    status, draft = desk.post("/desk/drafts", body.encode(), "application/x-www-form-urlencoded")
    return [*PAGES, ("trip builder", draft)] if status == 303 else list(PAGES)


def _page(name: str, desk: Desk, address: str, times: int) -> tuple[object, ...]:
    first, (status, body) = _timed(lambda: desk.get(address))
    if status != 200:
        return name, "-", f"status {status}", *[""] * 6
    # A page that takes seconds says as much when it is asked a few times.
    asked = times if first < 1_000 else max(3, times // 6)
    before = desk.worked_ms()
    taken = [_timed(lambda: desk.get(address))[0] for _ in range(asked)]
    worked = f"{(desk.worked_ms() - before) / asked:.0f}"
    return name, asked, f"{first:.0f}", *_figures(taken), worked, len(body) // 1000, _verdict(taken)


def _search(desk: Desk) -> tuple[object, ...]:
    """As she types, a letter at a time."""
    words = ("coupon 12 variant", "product 310 in", "offer 77", "reward 3", "tag store 2")
    typed = [word[:length] for word in words for length in range(1, len(word) + 1)]
    first, _ = _timed(lambda: desk.get("/desk/offers?" + urlencode({"search": typed[0]})))
    before = desk.worked_ms()
    taken = [_timed(lambda t=t: desk.get("/desk/offers?" + urlencode({"search": t})))[0] for t in typed]
    worked = f"{(desk.worked_ms() - before) / len(typed):.0f}"
    return "search as typed", len(typed), f"{first:.0f}", *_figures(taken), worked, "", _verdict(taken)


def _import(desk: Desk) -> list[tuple[object, ...]]:
    heading = "id,description,issuer,form,gives,amount,products,until\n"
    lines = (
        f"new-{n},New {n},manufacturer,insert,cents off,0.{n % 9 + 1}0,product-{n % 500:03}-0,2027-01-31\n"
        for n in range(ROWS_BROUGHT_IN)
    )
    csv = heading + "".join(lines)
    body = (
        '--bench\r\nContent-Disposition: form-data; name="kind"\r\n\r\ncoupon\r\n--bench\r\n'
        'Content-Disposition: form-data; name="table"; filename="new.csv"\r\nContent-Type: text/csv\r\n\r\n'
        f"{csv}\r\n--bench--\r\n"
    ).encode()
    sent, (_, address) = _timed(
        lambda: desk.post("/desk/offers/import", body, "multipart/form-data; boundary=bench")
    )
    looked, preview = _timed(lambda: _finished(desk, address))
    seen = re.search(r'name="seen" value="([0-9a-f]+)"', preview)
    assert seen is not None, preview[:2000]
    form = urlencode({"seen": seen[1], "without": "yes"}).encode()
    taken, _ = _timed(lambda: desk.post(address, form, "application/x-www-form-urlencoded"))
    after, _ = _timed(lambda: desk.get("/desk/offers"))
    figures = (
        (f"{ROWS_BROUGHT_IN:,} rows sent", sent),
        ("their preview", looked),
        ("taken in", taken),
        ("offers, after it", after),
    )
    return [(name, 1, f"{ms:.0f}", *[""] * 6) for name, ms in figures]


def _finished(desk: Desk, address: str) -> str:
    while True:
        _, body = desk.get(address)
        if "http-equiv" not in body:
            return body
        time.sleep(0.1)


def _timed(work: Callable[[], T]) -> tuple[float, T]:
    began = time.perf_counter()
    answer = work()
    return (time.perf_counter() - began) * 1000, answer


def _figures(taken: list[float]) -> tuple[str, ...]:
    return tuple(f"{percentile(taken, part):.0f}" for part in (0.5, 0.95, 0.99))


def _verdict(taken: list[float]) -> str:
    return "yes" if percentile(taken, 0.95) <= BUDGET_MS else "NO"


if __name__ == "__main__":
    main()
