"""Writes the published folder: ``publish`` a trip, ``withdraw`` one.

::

    index.html  feed.xml  site.json  manifest.webmanifest  icons/  styles/reader-<hash>.css
    carry.html  sw.js     app/<hash>/...                   what a reader's phone runs
    trips/<slug>/index.html                                the article, which needs no script
    trips/<slug>/trip.json                                 the same trip and plan, to be carried

Each file is swapped in whole, only where it differs, and after whatever it refers to; so a reader, or an
upload, in the middle of it finds a site that holds together. Publishing the same again changes nothing.
The service worker lies at the root because its reach is its own folder: no static host can widen that.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

import msgspec

from ...engine.offers import Trip
from ...engine.papers import Plan
from ...intake.bad_input import BadInput, Finding, shorten
from .app_files import AppFiles, app_files
from .articles import Article, Progress, article_of
from .choices import PublishChoices, checked
from .pages import Pages, long_day
from .public_trip import public_trip
from .site_list import SITE_FILE, Entry, LeftApp, SiteList, read_site

APP_KEPT_DAYS = 30  # after a newer one has replaced it
_ICONS = ("icon.svg", "icon-180.png", "icon-192.png", "icon-512.png", "maskable-192.png", "maskable-512.png")
_PASSING = ".passing"  # a file that is being written


class Carried(msgspec.Struct, frozen=True, kw_only=True):
    """``trip.json``: what a reader's phone carries. ``digest`` changes whenever anything told does."""

    format: Literal["counterfoil-published-1"] = "counterfoil-published-1"
    slug: str
    digest: str
    trip: Trip
    plan: Plan


class Published(msgspec.Struct, frozen=True, kw_only=True):
    """What ``publish`` did: the trip's ``slug``, whether anything ``changed``, the ``site`` as it is now."""

    slug: str
    changed: bool
    site: SiteList


def publish(
    trip: Trip,
    plan: Plan,
    folder: Path,
    *,
    choices: PublishChoices,
    web: Path,
    now: datetime,
    progress: Progress | None = None,
) -> Published:
    """Publishes a trip into ``folder``, made if need be. Raises ``BadInput``, and changes nothing then.

    ``plan``: the household's own; it says which deals are told, and how many she bought if she tells that.
    ``web``: the project's files for browsers. ``now``: with a time zone. ``progress``: see ``article_of``."""
    from ...engine.planner import plan as plan_trip  # brings the solver, which bad input need not wait for

    choices = checked(choices)
    site = _site_for(folder, choices, now)
    key = hashlib.sha256(f"{site.id} {trip.id}".encode()).hexdigest()[:16]
    known = next((entry for entry in site.trips if entry.key == key), None)
    slug = known.slug if known is not None else _free_slug(trip.day, site)
    title = choices.title or _title_of(trip)
    public = public_trip(trip, plan, choices, slug, title)
    if not public.wants:
        mend = "Choose at least one deal that has a price on the day of the trip."
        raise BadInput(Finding(field="wants", value="", mend=mend))
    made = plan_trip(public)
    bought = _bought(plan) if choices.counts else {}
    bought = {product.id: bought[product.id] for product in public.products if product.id in bought}
    stylesheet, style = _stylesheet(web)
    pages = Pages(web, stylesheet)
    told = (public, made, sorted(bought.items()), choices.introduction, title)
    digest = hashlib.sha256(msgspec.json.encode(told, order="deterministic")).hexdigest()[:16]
    look = _look(web, stylesheet)
    writer = _Writer(folder)
    page = f"trips/{slug}/index.html"
    writer.write(stylesheet, style)
    if known is not None and (known.digest, known.look) == (digest, look) and (folder / page).is_file():
        entry = known  # working the alternatives out again would end the same
    else:
        article = article_of(public, made, bought, progress)
        same = known is not None and known.digest == digest
        entry = _entry(article, known, site, key, digest, look, known.updated if same and known else now)
        writer.write(page, pages.trip(site, entry, article, choices.introduction))
    writer.write(
        f"trips/{slug}/trip.json",
        msgspec.json.encode(Carried(slug=slug, digest=digest, trip=public, plan=made)),
    )
    site = _with_entry(site, entry, now if entry != known else site.updated)
    site = _write_site(writer, site, pages, web, now)
    return Published(slug=slug, changed=writer.wrote, site=site)


def withdraw(slug: str, folder: Path, *, web: Path, now: datetime) -> SiteList:
    """Takes a trip off the site. Raises ``BadInput`` where the folder has no such trip.

    What was downloaded before cannot be called back."""
    site = read_site(folder)
    if site is None or all(entry.slug != slug for entry in site.trips):
        known = ", ".join(entry.slug for entry in site.trips) if site is not None else ""
        mend = f"Name one that is published there: {known}." if known else "Nothing is published there."
        raise BadInput(Finding(field="slug", value=shorten(slug), mend=shorten(mend)))
    trips = tuple(entry for entry in site.trips if entry.slug != slug)
    stylesheet, style = _stylesheet(web)
    writer = _Writer(folder)
    writer.write(stylesheet, style)
    site = msgspec.structs.replace(site, trips=trips, updated=now)
    site = _write_site(writer, site, Pages(web, stylesheet), web, now)
    shutil.rmtree(folder / "trips" / slug, ignore_errors=True)
    return site


def _stylesheet(web: Path) -> tuple[str, bytes]:
    """The stylesheet's path in the site, which changes with its content, and the content."""
    style = (web / "styles" / "reader.css").read_bytes()
    return f"styles/reader-{hashlib.sha256(style).hexdigest()[:12]}.css", style


def _look(web: Path, stylesheet: str) -> str:
    """A hash of what an article's page looks like, whatever it tells."""
    digest = hashlib.sha256(stylesheet.encode())
    for name in ("published.html", "published_trip.html"):
        digest.update((web / "templates" / name).read_bytes())
    return digest.hexdigest()[:16]


def _site_for(folder: Path, choices: PublishChoices, now: datetime) -> SiteList:
    """The site as it will be called from now on."""
    known = read_site(folder)
    if known is None:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            mend = "Name an empty folder, or one that was published into before: nothing else is overwritten."
            raise BadInput(Finding(field="folder", value=shorten(str(folder)), mend=mend))
        title = choices.site_title or f"Deal plans by {choices.author}"
        return SiteList(
            id=choices.address, address=choices.address, title=title, author=choices.author, updated=now
        )
    return msgspec.structs.replace(
        known,
        address=choices.address,
        author=choices.author,
        title=choices.site_title or known.title,
    )


def _title_of(trip: Trip) -> str:
    """A title that says nothing of the household: the day and the stores."""
    stores = [store.name for store in trip.stores if store.channel_of is None]
    some = ", ".join(stores[:3]) + (" and others" if len(stores) > 3 else "")
    return f"Deals for {long_day(trip.day)}: {some}"[:400]


def _free_slug(day: str, site: SiteList) -> str:
    taken = {entry.slug for entry in site.trips}
    number = 1
    while (slug := day if number == 1 else f"{day}-{number}") in taken:
        number += 1
    return slug


def _bought(plan: Plan) -> dict[str, int]:
    found: dict[str, int] = {}
    for deal in plan.deals:
        found[deal.product] = found.get(deal.product, 0) + deal.units
    return found


def _entry(
    article: Article,
    known: Entry | None,
    site: SiteList,
    key: str,
    digest: str,
    look: str,
    updated: datetime,
) -> Entry:
    trip, deals = article.trip, article.deals
    stores = [store.name for store in trip.stores if any(deal.deal.store == store.id for deal in deals)]
    count = f"{len(deals)} deal{'' if len(deals) == 1 else 's'}"
    return Entry(
        slug=trip.id,
        key=key,
        id=known.id if known is not None else f"{site.address}trips/{trip.id}/index.html",
        title=trip.title,
        day=trip.day,
        published=known.published if known is not None else updated,
        updated=updated,
        digest=digest,
        look=look,
        summary=f"{count} at {', '.join(stores)} on {long_day(trip.day)}."
        if deals
        else f"No deals on {long_day(trip.day)}.",
        lines=tuple(
            f"{each.units} × {each.name} at {each.store}: net {each.deal.unit_price}"
            + (
                f", {each.deal.verdict} the stock-up price of {each.deal.stock_up}"
                if each.deal.stock_up
                else ""
            )
            for each in deals
        ),
    )


def _with_entry(site: SiteList, entry: Entry, updated: datetime) -> SiteList:
    others = tuple(each for each in site.trips if each.key != entry.key)
    return msgspec.structs.replace(site, trips=(*others, entry), updated=updated)


def _write_site(writer: _Writer, site: SiteList, pages: Pages, web: Path, now: datetime) -> SiteList:
    """Everything but the trips, the list last; then clears away what nobody asks for any more."""
    worker = (web / "sw" / "reader-sw.js").read_bytes()
    template = (web / "templates" / "published_carry.html").read_bytes()
    app = app_files(web, worker, template)
    for path, body in app.files.items():
        writer.write(f"app/{app.hash}/{path}", body)
    for name in _ICONS:
        writer.write(f"icons/{name}", (web / "icons" / name).read_bytes())
    site = _with_app(site, app, now)
    carry, manifest = pages.carry(site, app), pages.manifest(site)
    writer.write(f"app/{app.hash}/files.json", msgspec.json.encode(_kept_files(app, carry, manifest)))
    writer.write("sw.js", worker)
    writer.write("manifest.webmanifest", manifest)
    writer.write("carry.html", carry)
    writer.write("index.html", pages.index(site))
    writer.write("feed.xml", pages.feed(site))
    writer.write(SITE_FILE, msgspec.json.format(msgspec.json.encode(site), indent=1))
    kept = {site.app, *(left.hash for left in site.left_apps)}
    apps = writer.folder / "app"
    for path in apps.iterdir():
        if path.is_dir() and path.name not in kept:
            shutil.rmtree(path, ignore_errors=True)
    return site


def _with_app(site: SiteList, app: AppFiles, now: datetime) -> SiteList:
    oldest = now - timedelta(days=APP_KEPT_DAYS)
    left = [each for each in site.left_apps if each.hash != app.hash and each.left >= oldest]
    if site.app and site.app != app.hash:
        left.append(LeftApp(hash=site.app, left=now))
    return msgspec.structs.replace(site, app=app.hash, left_apps=tuple(left))


class KeptFile(msgspec.Struct, frozen=True, kw_only=True):
    """One file that the service worker keeps: its path from the site's root, SHA-256 (hex), bytes."""

    url: str
    hash: str
    bytes: int


class KeptFiles(msgspec.Struct, frozen=True, kw_only=True):
    """``app/<hash>/files.json``."""

    app: str
    files: tuple[KeptFile, ...]


def _kept_files(app: AppFiles, carry: bytes, manifest: bytes) -> KeptFiles:
    def files() -> Iterator[KeptFile]:
        yield _kept("carry.html", carry)
        yield _kept("manifest.webmanifest", manifest)
        for path in app.kept:
            yield _kept(f"app/{app.hash}/{path}", app.files[path])

    return KeptFiles(app=app.hash, files=tuple(files()))


def _kept(url: str, body: bytes) -> KeptFile:
    return KeptFile(url=url, hash=hashlib.sha256(body).hexdigest(), bytes=len(body))


class _Writer:
    """Writes files below a folder, each swapped in whole, and only where it differs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.wrote = False

    def write(self, path: str, body: bytes) -> None:
        target = self.folder / path
        if target.is_file() and target.read_bytes() == body:
            return
        target.parent.mkdir(parents=True, exist_ok=True)
        passing = target.with_name(target.name + _PASSING)
        passing.write_bytes(body)
        os.chmod(passing, 0o644)
        os.replace(passing, target)
        self.wrote = True
