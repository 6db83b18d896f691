"""``trips/<slug>/edition.json``: everything that a published page was made of, so that it is made again in
moments, without a deal being weighed again.

It says nothing that the page does not. Readers' phones never ask for it. A household's data keep a copy
(``server/store/published.py``), from which ``put_back`` makes a folder that was lost.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Literal

import msgspec

from ...engine.offers import Id, Trip
from ...engine.papers import Plan
from ...intake.bad_input import BadInput, Finding, shorten
from .articles import Article
from .folder import Folder
from .site_list import Entry, SiteList, read_site

EDITION_FILE = "edition.json"


class Edition(msgspec.Struct, frozen=True, kw_only=True):
    """A page as it was published: its ``entry`` in the list, its ``article``, what was written above it."""

    format: Literal["counterfoil-edition-1"] = "counterfoil-edition-1"
    entry: Entry
    article: Article
    introduction: str


class Carried(msgspec.Struct, frozen=True, kw_only=True):
    """``trip.json``: what a reader's phone carries. ``digest`` changes whenever anything told does."""

    format: Literal["counterfoil-published-1"] = "counterfoil-published-1"
    slug: Id
    digest: str
    trip: Trip
    plan: Plan


def page_of(slug: str) -> str:
    """The page of a trip, by its path in the site."""
    return f"trips/{slug}/index.html"


def read_edition(folder: Path, slug: str) -> Edition | None:
    """What a page was made of; None where the folder does not say."""
    try:
        return msgspec.json.decode((folder / "trips" / slug / EDITION_FILE).read_bytes(), type=Edition)
    except (OSError, msgspec.DecodeError):
        return None


def write_edition(folder: Folder, site: SiteList, edition: Edition) -> None:
    """The files of one trip."""
    entry, article = edition.entry, edition.article
    carried = Carried(slug=entry.slug, digest=entry.digest, trip=article.trip, plan=article.plan)
    folder.write(f"trips/{entry.slug}/trip.json", msgspec.json.encode(carried))
    folder.write(page_of(entry.slug), folder.pages.trip(site, entry, article, edition.introduction))
    folder.write(f"trips/{entry.slug}/{EDITION_FILE}", msgspec.json.encode(edition))


def put_back(
    site: SiteList, editions: Iterable[Edition], folder: Path, *, web: Path, now: datetime
) -> SiteList:
    """Makes the folder of a site again, with every address and day as it was. Raises ``BadInput`` where
    anything is in the folder already. ``now``: with a time zone."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        mend = "Empty it, or name another: nothing is overwritten."
        raise BadInput(Finding(field="folder", value=shorten(str(folder)), mend=mend))
    made = Folder(folder, web)
    look = made.look()
    known = {edition.entry.slug: edition for edition in editions}
    again = [known[entry.slug] for entry in site.trips if entry.slug in known]
    again = [
        msgspec.structs.replace(each, entry=msgspec.structs.replace(each.entry, look=look)) for each in again
    ]
    trips = tuple(edition.entry for edition in again)
    whole = made.write_app(msgspec.structs.replace(site, app="", left_apps=(), trips=trips), now)
    for edition in again:
        write_edition(made, whole, edition)
    made.write_list(whole)
    return whole


def documents_of(folder: Path) -> tuple[str, dict[str, bytes]] | None:
    """What ``put_back`` needs of a folder, as it lies there: the site's id, then by slug each edition, and
    under "" the list of the trips. None where nothing is published."""
    site = read_site(folder)
    if site is None:
        return None
    documents = {"": msgspec.json.encode(site)}
    for entry in site.trips:
        edition = read_edition(folder, entry.slug)
        if edition is not None:
            documents[entry.slug] = msgspec.json.encode(edition)
    return site.id, documents


def read_documents(documents: Mapping[str, bytes]) -> tuple[SiteList, list[Edition]]:
    """The list and the editions out of such documents. Raises ``BadInput`` naming the slug."""
    site = read_list(documents.get("", b""))
    return site, [read_page(slug, document) for slug, document in documents.items() if slug]


def read_list(document: bytes) -> SiteList:
    """The list of a site's trips. Raises ``BadInput``."""
    try:
        return msgspec.json.decode(document, type=SiteList)
    except msgspec.DecodeError as error:
        raise _unreadable("the list of the pages", error) from error


def read_page(slug: str, document: bytes) -> Edition:
    """The edition of a slug. Raises ``BadInput``, too where it is another's."""
    try:
        edition = msgspec.json.decode(document, type=Edition)
        if edition.entry.slug != slug:
            raise ValueError("it is the page of another trip")
    except (msgspec.DecodeError, ValueError) as error:
        raise _unreadable(slug, error) from error
    return edition


def _unreadable(slug: str, error: Exception) -> BadInput:
    mend = f"What this page was made of cannot be read ({error}): publish it again."
    return BadInput(Finding(field="published", value=shorten(slug), mend=shorten(mend)))
