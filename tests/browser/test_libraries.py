"""The browser libraries load as the pages and the worker load them, from files alone."""

from __future__ import annotations

import json

from playwright.sync_api import Browser, Page

from tests.served import ROOT

IMPORT_MAP = (ROOT / "web" / "vendor" / "importmap.json").read_text()

# A worker has no import map: it takes the solver by path. The least of x + y from 3 units is 3.
WORKER = """
import highsLoader from "/web/vendor/highs/highs.mjs";
const highs = await highsLoader();
const answer = highs.solve("Minimize\\n obj: x + y\\nSubject To\\n c: x + y >= 2.5\\nGeneral\\n x y\\nEnd");
self.postMessage([answer.Status, answer.ObjectiveValue]);
"""


def test_a_module_worker_solves_with_the_wasm_beside_the_module(module_page: Page) -> None:
    answer = module_page.evaluate(
        """async (source) => {
            const blob = new Blob([source.replaceAll('"/web', '"' + location.origin + "/web")],
                                  {type: "text/javascript"});
            const worker = new Worker(URL.createObjectURL(blob), {type: "module"});
            return await new Promise((resolve, reject) => {
                worker.onmessage = (event) => resolve(event.data);
                worker.onerror = (event) => reject(new Error(event.message));
            });
        }""",
        WORKER,
    )
    assert answer == ["Optimal", 3]


def test_every_name_in_the_import_map_loads(chromium: Browser, static_site: str) -> None:
    names = [name for name in json.loads(IMPORT_MAP)["imports"] if not name.endswith("/")]
    names += ["lit/directives/repeat.js", "lit/directives/class-map.js", "lit/static-html.js"]
    page = chromium.new_page()
    page.goto(static_site + "/tests/blank.html")
    page.evaluate(
        """(map) => {
            const script = document.createElement("script");
            script.type = "importmap";
            script.textContent = map;
            document.head.append(script);
        }""",
        IMPORT_MAP,
    )
    for name in names:
        assert page.evaluate("async (name) => Object.keys(await import(name)).length > 0", name), name
    page.close()
