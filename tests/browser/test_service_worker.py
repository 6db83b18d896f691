"""The service worker keeps one whole version on the phone, serves it alone, and changes over only when told.

A small site stands in for the page, so that its files can change between two versions.
"""

from __future__ import annotations

import hashlib
import http.server
import json
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.waiting import PATIENCE, until
from tests.served import ROOT

SHELL = """<!doctype html><title>site</title><link rel="icon" href="data:,">
<p id="words"></p><p id="bridge"></p>
<script type="module" src="/web/phone/page.js"></script>"""
PAGE = """
import { words } from './words.js';
import { PageKeeper } from './page-keeper.js';
const bridge = new PageKeeper();
bridge.addEventListener('changed', () => {
  document.querySelector('#bridge').textContent =
    (bridge.ready ? 'ready' : bridge.missing) + (bridge.waiting ? ', an update waits' : '');
});
window.bridge = bridge;
document.querySelector('#words').textContent = words;
void bridge.start();
"""
SLOW = "/api/slow"


class Site:
    """``files``: address -> content. ``down``: answers nothing but errors. ``pack``: ``packed``, a part
    of it, or none. ``asked``: addresses, in order. What ``SLOW`` asks ``hangs`` until ``quick`` is set.
    ``worker``: the service worker's script."""

    def __init__(self) -> None:
        self.down = False
        self.hangs = threading.Event()
        self.quick = threading.Event()
        self.pack: str | None = None
        self.asked: list[str] = []
        self.worker = (ROOT / "web" / "sw" / "sw.js").read_text()
        self.files = {
            "/": SHELL,
            "/web/phone/page.js": PAGE,
            "/web/phone/words.js": "export const words = 'version one';",
            **{
                f"/web/phone/{name}": (ROOT / "web" / "phone" / name).read_text()
                for name in (
                    "page-keeper.js",
                    "service-worker-bridge.js",
                    "addresses.js",
                    "what-to-remind.js",
                    "due-kept.js",
                )
            },
        }
        self.told: dict[str, str] = {}  # hashes that the list gives in place of the true ones
        site = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                path = self.path.partition("?")[0]
                site.asked.append(path)
                if path == SLOW:
                    site.hangs.set()
                    site.quick.wait()
                    return
                content = site.content(path)
                kind = (
                    "text/html"
                    if path == "/"
                    else "text/javascript"
                    if path.endswith(".js")
                    else "text/plain"
                )
                self.send_response(200 if content is not None and not site.down else 503)
                self.send_header("Content-Type", kind)
                self.send_header("Cache-Control", "no-cache")
                self.end_headers()
                self.wfile.write((content or "").encode())

            def log_message(self, format: str, *args: object) -> None:
                pass

        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        threading.Thread(target=self._server.serve_forever, daemon=True).start()
        self.url = f"http://127.0.0.1:{self._server.server_port}/"

    def content(self, path: str) -> str | None:
        if path == "/sw.js":
            return self.worker
        if path == "/precache.json":
            return json.dumps(self.precache())
        if path == "/precache.pack":
            return self.pack
        return self.files.get(path)

    def packed(self) -> str:
        """All files in one, as the server packs them."""
        kinds = {url: "text/html" if url == "/" else "text/javascript" for url in self.files}
        listed = [
            {"url": url, "type": kinds[url], "bytes": len(body.encode())} for url, body in self.files.items()
        ]
        return "\n".join((json.dumps(listed), "".join(self.files.values())))

    def precache(self) -> dict[str, Any]:
        files = [
            {
                "url": url,
                "hash": self.told.get(url, hashlib.sha256(body.encode()).hexdigest()),
                "bytes": len(body),
            }
            for url, body in sorted(self.files.items())
        ]
        return {"version": hashlib.sha256(json.dumps(files).encode()).hexdigest()[:16], "files": files}

    def close(self) -> None:
        self.quick.set()
        self._server.shutdown()
        self._server.server_close()


@pytest.fixture
def site() -> Iterator[Site]:
    site = Site()
    yield site
    site.close()


@pytest.fixture
def page(phone: BrowserContext, site: Site) -> Page:
    page = phone.new_page()
    page.goto(site.url)
    expect(page.locator("#bridge")).to_have_text("ready")
    return page


def test_after_the_first_visit_the_page_opens_with_the_server_gone(page: Page, site: Site) -> None:
    site.down = True
    page.reload()
    expect(page.locator("#words")).to_have_text("version one")
    expect(page.locator("#bridge")).to_have_text("ready")


# More than are asked for one by one.
MANY = {f"/web/phone/part-{k}.js": f"export const part = {k}; // \u2013" for k in range(40)}


def test_many_new_files_come_in_one_pack_and_are_served_as_if_each_had_come_alone(
    phone: BrowserContext, site: Site
) -> None:
    site.files |= MANY
    site.pack = site.packed()
    page = phone.new_page()
    page.goto(site.url)
    expect(page.locator("#bridge")).to_have_text("ready")
    assert not [address for address in site.asked if address in MANY]
    site.down = True
    page.reload()
    expect(page.locator("#words")).to_have_text("version one")
    assert page.evaluate("import('/web/phone/part-39.js').then(({ part }) => part)") == 39


@pytest.mark.parametrize("share", [0, 0.5, 0.97])
def test_what_a_pack_does_not_bring_whole_is_asked_for_alone(
    phone: BrowserContext, site: Site, share: float
) -> None:
    site.files |= MANY
    site.pack = site.packed()[: int(len(site.packed()) * share)]
    page = phone.new_page()
    page.goto(site.url)
    expect(page.locator("#bridge")).to_have_text("ready")
    assert "/web/phone/part-39.js" in site.asked
    site.down = True
    page.reload()
    expect(page.locator("#words")).to_have_text("version one")
    assert page.evaluate("import('/web/phone/part-39.js').then(({ part }) => part)") == 39


def test_where_the_browser_can_a_kept_page_is_answered_without_waking_the_worker(
    page: Page, site: Site
) -> None:
    site.down = True
    page.reload()
    expect(page.locator("#words")).to_have_text("version one")
    sources = page.evaluate(
        """() => [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]
            .filter(({name}) => new URL(name).pathname !== '/precache.json')
            .map(({workerFinalSourceType}) => workerFinalSourceType)"""
    )
    assert len(sources) > 3
    assert set(sources) == {"cache"}


def test_a_new_version_waits_for_the_shoppers_word(page: Page, site: Site) -> None:
    site.files["/web/phone/words.js"] = "export const words = 'version two';"
    page.reload()
    expect(page.locator("#bridge")).to_have_text("ready, an update waits")
    page.reload()
    # Still the old one, whole, however often the page is opened.
    expect(page.locator("#words")).to_have_text("version one")
    expect(page.locator("#bridge")).to_have_text("ready, an update waits")
    page.evaluate("bridge.update()")
    expect(page.locator("#words")).to_have_text("version two")
    assert page.evaluate("(async () => (await caches.keys()).length)()") == 1


def ask_and_hang(page: Page, site: Site) -> None:
    """A newer version waits, and the older worker asks the network for something that does not come."""
    site.files["/web/phone/words.js"] = "export const words = 'version two';"
    page.reload()
    expect(page.locator("#bridge")).to_have_text("ready, an update waits")
    page.evaluate(f"void fetch('{SLOW}').catch(() => {{}})")
    assert site.hangs.wait(PATIENCE)


def test_a_new_version_takes_over_while_the_network_hardly_answers(page: Page, site: Site) -> None:
    ask_and_hang(page, site)
    page.evaluate("bridge.update()")
    expect(page.locator("#words")).to_have_text("version two")
    expect(page.locator("#bridge")).to_have_text("ready")
    assert not site.quick.is_set()


def test_a_worker_that_cannot_let_go_is_left_and_no_two_versions_mix(
    phone: BrowserContext, site: Site
) -> None:
    site.worker = site.worker.replace("let go", "hear nothing")
    page = phone.new_page()
    page.goto(site.url)
    expect(page.locator("#bridge")).to_have_text("ready")
    ask_and_hang(page, site)
    with page.expect_navigation():
        page.evaluate("bridge.update()")
    # The page is loaded anew, by the older worker as yet.
    expect(page.locator("#bridge")).to_have_text("ready, an update waits")
    expect(page.locator("#words")).to_have_text("version one")
    site.quick.set()
    expect(page.locator("#words")).to_have_text("version two")
    expect(page.locator("#bridge")).to_have_text("ready")


def test_a_page_that_two_versions_may_have_served_is_loaded_once_more(page: Page) -> None:
    page.evaluate("history.replaceState({'counterfoil left': '/sw.js?version=gone-by-now'}, '')")
    page.add_init_script("sessionStorage.loads = Number(sessionStorage.loads ?? 0) + 1")
    page.reload(wait_until="commit")
    page.wait_for_function("document.querySelector('#bridge')?.textContent === 'ready'")
    page.wait_for_function("sessionStorage.loads === '2'")
    assert page.evaluate("history.state['counterfoil left']") == ""


def test_a_file_that_is_not_what_the_list_says_is_never_served(page: Page, site: Site) -> None:
    site.files["/web/phone/words.js"] = "export const words = 'half of a fil"
    site.told["/web/phone/words.js"] = hashlib.sha256(b"export const words = 'version two';").hexdigest()
    page.reload()
    expect(page.locator("#words")).to_have_text("version one")
    expect(page.locator("#bridge")).to_have_text("ready")
    until(page, "async () => !(await navigator.serviceWorker.getRegistration()).installing")
    # The broken version is given up; the next good one installs.
    site.files["/web/phone/words.js"] = "export const words = 'version two';"
    site.files["/web/phone/more.js"] = "export {};"
    page.reload()
    expect(page.locator("#bridge")).to_have_text("ready, an update waits")
    page.evaluate("bridge.update()")
    expect(page.locator("#words")).to_have_text("version two")


def test_what_is_not_on_the_list_comes_from_the_network_alone(page: Page, site: Site) -> None:
    site.files["/api/trips"] = '{"trips": []}'
    assert page.evaluate("(async () => (await fetch('/api/trips')).status)()") == 200
    site.down = True
    assert page.evaluate("(async () => (await fetch('/api/trips')).status)()") == 503
