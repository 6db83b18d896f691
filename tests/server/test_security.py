"""What a browser may do with our pages: the headers of every answer, and who may ask."""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

import pytest

from counterfoil.shipped import web_folder

from .conftest import Client, paired

TEMPLATES = web_folder() / "templates"


@pytest.mark.parametrize(
    "address", ["/", "/desk", "/api/trips", "/sw.js", "/web/styles/desk.css", "/nowhere"]
)
def test_every_answer_has_the_headers(client: Client, address: str) -> None:
    headers = client.get(address).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; ")
    assert "unsafe-inline" not in policy
    assert " 'unsafe-eval'" not in policy
    assert "frame-ancestors 'none'" in policy
    assert "style-src 'self';" in policy
    assert "http:" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cache-control"] in ("no-cache", "no-store")


def test_pages_of_the_household_stay_in_no_cache(home: Client) -> None:
    assert home.get("/desk").headers["cache-control"] == "no-store"
    assert home.get("/desk/trips/oats-week").headers["cache-control"] == "no-store"


def test_the_one_inline_script_is_the_import_map_and_its_hash_is_allowed(client: Client) -> None:
    answer = client.get("/")
    inline = re.findall(r"<script(?![^>]*\ssrc=)([^>]*)>(.*?)</script>", answer.text, re.DOTALL)
    [(attributes, text)] = inline
    assert attributes == ' type="importmap"'
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    assert f"'sha256-{digest}'" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("template", sorted(path.name for path in TEMPLATES.glob("*.html")))
def test_no_template_has_inline_style_or_handlers(template: str) -> None:
    text = (TEMPLATES / template).read_text("utf-8")
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", text)


@pytest.mark.parametrize(
    "host",
    ["localhost:8000", "127.0.0.1:8000", "[::1]:8000", "192.168.1.20", "kitchen.local", "list.example"],
)
def test_our_own_names_and_addresses_are_answered(tmp_path: Path, host: str) -> None:
    with paired(tmp_path, allowed_hosts=["list.example"]) as client:
        assert client.get("/desk", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "localhost.elsewhere.example", "127.0.0.1.elsewhere.example", ""]
)
def test_other_names_are_not(client: Client, host: str) -> None:
    """A page elsewhere that gives its own name this machine's address gets nothing."""
    assert client.get("/desk", headers={"Host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers", [{"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}, {"Origin": "null"}]
)
def test_a_form_on_another_site_changes_nothing(client: Client, headers: dict[str, str]) -> None:
    answer = client.post("/desk/trips", files={"trip": ("trip.json", b"{}")}, headers=headers)
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Sec-Fetch-Site": "same-origin"},
        {"Sec-Fetch-Site": "none"},
        {"Origin": "http://desk.localhost"},
    ],
)
def test_our_own_pages_and_programs_may(client: Client, headers: dict[str, str]) -> None:
    assert client.post("/sync", json={"device": "phone-a"}, headers=headers).status_code == 200
