"""Promise kept here: a published folder holds all that a reader's phone runs, and names no other host."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import msgspec
import pytest

from counterfoil.intake.documents import read_trip

from .readers import ADDRESS, files, published, rolls


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The rolls, published."""
    found = tmp_path_factory.mktemp("rolls")
    published(rolls(), found)
    return found


def page(folder: Path, path: str) -> str:
    return (folder / path).read_text("utf-8")


def test_the_trip_that_is_carried_is_a_trip_that_the_engine_takes(folder: Path) -> None:
    carried = json.loads(page(folder, "trips/2026-12-05/trip.json"))
    trip = read_trip(json.dumps(carried["trip"]).encode())
    assert (trip.id, trip.title) == ("2026-12-05", "Deals for Saturday, 5 December 2026: Ostrel, Brindlewick")


def test_the_manifest_makes_the_site_installable(folder: Path) -> None:
    manifest = json.loads(page(folder, "manifest.webmanifest"))
    assert (manifest["start_url"], manifest["scope"], manifest["display"]) == (
        "./carry.html",
        "./",
        "standalone",
    )
    there = files(folder)
    assert {icon["sizes"] for icon in manifest["icons"]} == {"any", "192x192", "512x512"}
    assert all(icon["src"] in there for icon in manifest["icons"])


def test_what_the_phone_keeps_is_listed_with_its_hashes(folder: Path) -> None:
    there = files(folder)
    (listed,) = [path for path in there if path.endswith("files.json")]
    kept = json.loads(there[listed])["files"]
    assert len(kept) > 40
    for file in kept:
        assert hashlib.sha256(there[file["url"]]).hexdigest() == file["hash"]
        assert len(there[file["url"]]) == file["bytes"]
    assert not [file["url"] for file in kept if "zxing" in file["url"]]


def test_every_import_of_the_app_leads_to_a_file(folder: Path) -> None:
    there = files(folder)
    site = msgspec.json.decode(there["site.json"])
    root = f"app/{site['app']}/"
    for path, body in there.items():
        if not path.startswith(root) or not path.endswith(".js") or "/vendor/" in path:
            continue
        text = re.sub(r"/\*.*?\*/", "", body.decode(), flags=re.DOTALL)
        for link in re.findall(r"""(?:from|import)\s*\(?\s*["'](\.[^"']+)["']""", text):
            target = (folder / path).parent.joinpath(link).resolve().relative_to(folder.resolve())
            assert target.as_posix() in there, f"{path}: {link}"


def test_nothing_names_another_host(folder: Path) -> None:
    for path, body in files(folder).items():
        if path.endswith((".wasm", ".png", "LICENSE", ".svg")) or "/vendor/" in path:
            continue
        found = set(re.findall(rb"https?://[^\s\"'<>)`]+", body))
        # Names of vocabularies, and the site's own address where it must be whole.
        known = (b"https://schema.org", b"http://www.w3.org/", ADDRESS.encode())
        assert [each for each in found if not each.startswith(known)] == [], path
