"""Promise kept here: the feed is Atom 1.0 as RFC 4287 asks, and a reader's program can follow it."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from .readers import ADDRESS, MONDAY, TUESDAY, choices, published, rolls

ATOM = "{http://www.w3.org/2005/Atom}"
# RFC 3339, in UTC.
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


def feed(folder: Path) -> ElementTree.Element:
    return ElementTree.fromstring((folder / "feed.xml").read_bytes())


def one(parent: ElementTree.Element, name: str) -> ElementTree.Element:
    """The only child of that name: RFC 4287 allows no second."""
    found = parent.findall(ATOM + name)
    assert len(found) == 1, name
    return found[0]


def text(parent: ElementTree.Element, name: str) -> str:
    return one(parent, name).text or ""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = tmp_path_factory.mktemp("feed")
    published(rolls(), found)
    published(rolls(id="later", day="2026-12-12"), found, choices(title="Rolls & <more>"), now=TUESDAY)
    return found


def test_the_feed_has_what_rfc_4287_section_4_1_1_asks(folder: Path) -> None:
    root = feed(folder)
    assert root.tag == f"{ATOM}feed"
    assert text(root, "id") == ADDRESS
    assert text(root, "title") == "Deal plans by Wren Tallow"
    assert text(one(root, "author"), "name") == "Wren Tallow"
    assert text(root, "updated") == "2026-12-01T09:30:00Z"
    links = {link.get("rel"): link.get("href") for link in root.findall(f"{ATOM}link")}
    assert links == {"self": f"{ADDRESS}feed.xml", "alternate": f"{ADDRESS}index.html"}


def test_each_entry_has_what_rfc_4287_section_4_1_2_asks(folder: Path) -> None:
    entries = feed(folder).findall(f"{ATOM}entry")
    assert text(entries[0], "title") == "Rolls & <more>"
    assert len({text(entry, "id") for entry in entries}) == 2
    for entry in entries:
        assert text(entry, "id").startswith("https://")
        assert MOMENT.fullmatch(text(entry, "updated"))
        assert MOMENT.fullmatch(text(entry, "published"))
        assert "1 deal at Ostrel" in text(entry, "summary")
        (link,) = entry.findall(f"{ATOM}link")
        assert link.get("rel") == "alternate"
        page = (link.get("href") or "").removeprefix(ADDRESS)
        assert (folder / page).is_file()
        content = one(entry, "content")
        assert content.get("type") == "xhtml"
        # RFC 4287 section 3.1.1.3: a single div of XHTML.
        (div,) = list(content)
        assert div.tag == "{http://www.w3.org/1999/xhtml}div"
        assert "1 × Wendle rolls, 12 at Ostrel: net 37.5¢/roll" in "".join(div.itertext())


def test_entries_stand_newest_first(folder: Path) -> None:
    days = [text(entry, "published") for entry in feed(folder).findall(f"{ATOM}entry")]
    assert days == sorted(days, reverse=True)


def test_an_id_stays_though_the_site_moves(tmp_path: Path) -> None:
    """RFC 4287 section 4.2.6: an id is permanent."""
    published(rolls(), tmp_path, now=MONDAY)
    before = feed(tmp_path)
    published(rolls(), tmp_path, choices(address="https://other.example/"), now=TUESDAY)
    after = feed(tmp_path)
    assert text(after, "id") == text(before, "id") == ADDRESS
    assert text(one(after, "entry"), "id") == text(one(before, "entry"), "id")
    links = {link.get("rel"): link.get("href") for link in after.findall(f"{ATOM}link")}
    assert links["self"] == "https://other.example/feed.xml"
