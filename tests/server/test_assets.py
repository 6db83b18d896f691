"""The phone's files: the list for offline use is complete and true, and no others go out."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path
from urllib.parse import urljoin

import pytest

from counterfoil.routes.assets import MOST_IN_PACK, Shelf, import_map
from counterfoil.shipped import web_folder

from .conftest import Client

PRELOADED = re.compile(r'<link rel="modulepreload" href="([^"]+)">')
TEMPLATE = re.compile(r"<template .*?</template>", re.DOTALL)
# `import x from 'y'`, `export x from 'y'`, `import 'y'` at the start of a line.
IMPORTED = re.compile(r"^(?:import|export)\s*(?:[^'\"]*?\sfrom)?\s*'([^']+)'", re.MULTILINE)


def mapped(name: str, bare: dict[str, str]) -> str:
    """A name as the import map has it: whole, or by the longest folder (``lit/``) that it starts with."""
    folders = [folder for folder in bare if folder.endswith("/") and name.startswith(folder)]
    folder = max(folders, key=len, default="")
    return bare.get(name) or bare.get(folder, "") + name.removeprefix(folder)


def test_everything_on_the_list_can_be_fetched_and_is_what_the_list_says(client: Client) -> None:
    files = client.get("/precache.json").json()["files"]
    assert files
    for file in files:
        answer = client.get(file["url"])
        assert answer.status_code == 200, file["url"]
        assert len(answer.content) == file["bytes"], file["url"]
        assert hashlib.sha256(answer.content).hexdigest() == file["hash"], file["url"]


def test_the_pack_has_the_small_files_of_the_list_as_each_is_served_alone(client: Client) -> None:
    answer = client.get("/precache.pack")
    head, _, rest = answer.content.partition(b"\n")
    hashes = {file["url"]: file["hash"] for file in client.get("/precache.json").json()["files"]}
    # What the worker puts in their place or leaves away; the address of the shell alone looks at who asks.
    own = {"content-type", "content-encoding", "content-length", "etag", "vary"}
    said = {name: text for name, text in answer.headers.items() if name not in own}
    listed = json.loads(head)
    for each in listed:
        body, rest = rest[: each["bytes"]], rest[each["bytes"] :]
        alone = client.get(each["url"])
        assert hashlib.sha256(body).hexdigest() == hashes[each["url"]], each["url"]
        assert alone.headers["content-type"] == each["type"], each["url"]
        assert {name: text for name, text in alone.headers.items() if name not in own} == said, each["url"]
    assert rest == b""
    large = {
        file["url"] for file in client.get("/precache.json").json()["files"] if file["bytes"] > MOST_IN_PACK
    }
    assert set(hashes) - {each["url"] for each in listed} == large


def test_everything_that_a_carried_module_imports_is_carried(client: Client) -> None:
    """Static imports of every module, and what the shell asks for, by the import map where bare."""
    files = client.get("/precache.json").json()["files"]
    carried = {file["url"] for file in files}
    bare: dict[str, str] = json.loads(import_map(web_folder()))["imports"]
    missing: list[str] = []
    for url in carried:
        if not url.endswith((".js", ".mjs")) or url.startswith("/web/vendor/"):
            continue
        source = client.get(url).text
        for name in IMPORTED.findall(source):
            address = urljoin(url, mapped(name, bare))
            if address not in carried:
                missing.append(f"{url} imports {name}")
    assert missing == []


def test_the_shell_asks_for_nothing_that_is_not_carried(client: Client) -> None:
    carried = {file["url"] for file in client.get("/precache.json").json()["files"]}
    asked = set(re.findall(r'(?:src|href)="(/[^"]+)"', client.get("/").text))
    assert asked - carried == {"/desk"}


def test_the_page_asks_for_the_shell_with_itself_only_where_it_comes_over_the_network(client: Client) -> None:
    """Kept on the phone, its first lines come before the shell's modules."""
    kept = client.get("/").text
    fetched = client.get("/", headers={"Sec-Fetch-Mode": "navigate"}).text
    opening = {"/web/phone/opening.js", "/web/phone/phone-store.js", "/web/vendor/idb/index.js"}
    shell = {"/web/phone/main.js", "/web/vendor/lit/index.js"}
    for screen in ("/web/aisle/aisle-screen.js", "/web/register/register-screen.js"):
        assert screen in later(kept) & later(fetched)
    assert opening <= at_once(kept) & at_once(fetched)
    assert shell <= at_once(fetched)
    assert shell <= later(kept) - at_once(kept)
    assert at_once(kept) | later(kept) <= at_once(fetched) | later(fetched)
    # What the screen needs is then asked for before the page's own code has come.
    assert "/web/phone/asked-first.js" in fetched
    assert "/web/phone/asked-first.js" not in kept
    assert "/web/phone/page-keeper.js" in later(fetched) - later(kept)


def at_once(page: str) -> set[str]:
    """The modules that a browser asks for as it reads the page."""
    return set(PRELOADED.findall(TEMPLATE.sub("", page)))


def later(page: str) -> set[str]:
    """Those that stand in templates, for the page's script."""
    return {module for template in TEMPLATE.findall(page) for module in PRELOADED.findall(template)}


def test_the_icons_of_the_manifest_are_carried(client: Client) -> None:
    carried = {file["url"] for file in client.get("/precache.json").json()["files"]}
    icons = {icon["src"] for icon in client.get("/manifest.webmanifest").json()["icons"]}
    assert icons - carried == set()


@pytest.mark.parametrize(
    ("address", "mime"),
    [
        ("/web/vendor/lit/index.js", "text/javascript; charset=utf-8"),
        ("/web/vendor/highs/highs.mjs", "text/javascript; charset=utf-8"),
        ("/web/vendor/highs/highs.wasm", "application/wasm"),
        ("/web/styles/desk.css", "text/css; charset=utf-8"),
        ("/manifest.webmanifest", "application/manifest+json"),
        ("/sw.js", "text/javascript; charset=utf-8"),
        ("/", "text/html; charset=utf-8"),
    ],
)
def test_files_have_the_types_that_browsers_insist_on(client: Client, address: str, mime: str) -> None:
    answer = client.get(address)
    assert answer.headers["content-type"] == mime
    assert answer.headers["cache-control"] == "no-cache"


def test_an_unchanged_file_is_not_sent_again(client: Client) -> None:
    tag = client.get("/web/styles/desk.css").headers["etag"]
    again = client.get("/web/styles/desk.css", headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize(
    "address", ["/", "/sw.js", "/manifest.webmanifest", "/web/phone/main.js", "/precache.json"]
)
def test_what_can_be_fetched_can_be_asked_about(client: Client, address: str) -> None:
    fetched, asked = client.get(address), client.head(address)
    assert (asked.status_code, asked.headers.get("etag")) == (200, fetched.headers.get("etag"))
    assert asked.headers["content-type"] == fetched.headers["content-type"]


def test_files_travel_packed_and_arrive_whole(client: Client) -> None:
    packed = client.get("/web/vendor/highs/highs.wasm", headers={"Accept-Encoding": "gzip"})
    plain = client.get("/web/vendor/highs/highs.wasm", headers={"Accept-Encoding": "identity"})
    assert packed.headers["content-encoding"] == "gzip"
    assert int(packed.headers["content-length"]) < len(plain.content) / 2
    assert packed.content == plain.content


def test_the_service_worker_may_rule_the_whole_site(client: Client) -> None:
    assert client.get("/sw.js?version=1").headers["service-worker-allowed"] == "/"


@pytest.mark.parametrize(
    "address",
    [
        "/web/templates/phone.html",
        "/web/../pyproject.toml",
        "/web/%2e%2e/pyproject.toml",
        "/web/engine/%2e%2e/%2e%2e/pyproject.toml",
        "/web//etc/passwd",
        "/web/phone/README.md",
        "/web/phone",
        "/web/.gitignore",
        "/icons/../../pyproject.toml",
    ],
)
def test_nothing_else_is_served(client: Client, address: str) -> None:
    assert client.get(address).status_code == 404


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "outside.js").write_text("secret")
    (tmp_path / "web" / "phone").mkdir(parents=True)
    (tmp_path / "web" / "phone" / "link.js").symlink_to(tmp_path / "outside.js")
    assert Shelf(tmp_path / "web", b"").file("/web/phone/link.js") is None


def test_a_changed_file_makes_a_new_version_of_the_list(tmp_path: Path) -> None:
    module = tmp_path / "phone" / "main.js"
    module.parent.mkdir()
    module.write_text("1")
    shelf = Shelf(tmp_path, b"<!doctype html>")
    before = shelf.precache()
    module.write_text("12")
    after = shelf.precache()
    assert before.version != after.version
    assert [file.url for file in after.files] == ["/", "/web/phone/main.js"]


def test_an_import_map_cannot_end_its_script(tmp_path: Path) -> None:
    (tmp_path / "vendor").mkdir()
    (tmp_path / "vendor" / "importmap.json").write_text('{"imports": {"x": "</script>"}}')
    assert "<" not in import_map(tmp_path)
