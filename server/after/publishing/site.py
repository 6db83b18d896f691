"""``publish`` a trip into a folder, or ``withdraw`` one from it.

Publishing the same again changes nothing, not even a date; publishing it changed replaces it, at the same
address. A trip keeps its address by a hash of its id, so that the id itself, which the household chose, is
not told.
"""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path

import msgspec

from ...engine.offers import Trip
from ...engine.papers import Plan
from ...intake.bad_input import BadInput, Finding, shorten
from .articles import Article, Progress, article_of
from .choices import PublishChoices, checked
from .editions import Edition, read_edition, write_edition
from .folder import Folder
from .pages import long_day
from .public_trip import public_trip
from .site_list import Entry, SiteList, read_site


class Published(msgspec.Struct, frozen=True, kw_only=True):
    """What ``publish`` did: the trip's ``slug``, whether anything ``changed``, the ``site`` as it is now."""

    slug: str
    changed: bool
    site: SiteList


class Ready(msgspec.Struct, frozen=True, kw_only=True):
    """A trip that can be published. ``bought``: product id -> units that the planner tells she bought;
    ``known``: as it was published before."""

    folder: Path
    choices: PublishChoices
    site: SiteList
    key: str
    known: Entry | None
    trip: Trip
    bought: dict[str, int]


def made_ready(trip: Trip, plan: Plan, folder: Path, choices: PublishChoices, now: datetime) -> Ready:
    """Everything that can be said at once; writes nothing. Raises ``BadInput`` with every finding.

    ``plan``: the household's own; it says which deals are told, and how many she bought if she tells that.
    ``now``: with a time zone."""
    choices = checked(choices)
    site = _site_for(folder, choices, now)
    key = hashlib.sha256(f"{site.id} {trip.id}".encode()).hexdigest()[:16]
    known = next((entry for entry in site.trips if entry.key == key), None)
    slug = known.slug if known is not None else _free_slug(trip.day, site)
    ids = {want.id for want in trip.wants}
    unknown = [want for want in choices.wants or () if want not in ids]
    if unknown:
        mend = f"The trip has no such want: choose of {', '.join(sorted(ids))}."
        raise BadInput(Finding(field="wants", value=shorten(", ".join(unknown)), mend=shorten(mend)))
    public = public_trip(trip, plan, choices, slug, choices.title)
    if not public.wants:
        mend = "Choose at least one deal that has a price on the day of the trip."
        raise BadInput(Finding(field="wants", value="nothing", mend=mend))
    if not choices.title:
        public = msgspec.structs.replace(public, title=_title_of(public))
    bought = _bought(plan) if choices.counts else {}
    told = {product.id for product in public.products}
    return Ready(
        folder=folder,
        choices=choices,
        site=site,
        key=key,
        known=known,
        trip=public,
        bought={product: units for product, units in sorted(bought.items()) if product in told},
    )


def publish(ready: Ready, *, web: Path, now: datetime, progress: Progress | None = None) -> Published:
    """Publishes a trip; its folder is made if need be. ``web``: the project's files for browsers."""
    from ...engine.planner import plan as plan_trip  # brings the solver, which bad input need not wait for

    trip, known = ready.trip, ready.known
    made = plan_trip(trip)
    told = (trip, made, ready.bought, ready.choices.introduction)
    digest = hashlib.sha256(msgspec.json.encode(told, order="deterministic")).hexdigest()[:16]
    folder = Folder(ready.folder, web)
    before = None if known is None else read_edition(ready.folder, trip.id)
    # Working the alternatives out again for the same page would end the same.
    if before is not None and before.entry.digest == digest:
        article = before.article
    else:
        article = article_of(trip, made, ready.bought, progress, before.article if before else None)
    updated = known.updated if known is not None and known.digest == digest else now
    entry = _entry(article, ready, digest, folder.look(), updated)
    site = _with_entry(ready.site, entry, now if entry != known else ready.site.updated)
    site = folder.write_app(site, now)
    edition = Edition(entry=entry, article=article, introduction=ready.choices.introduction)
    write_edition(folder, site, edition)
    folder.write_list(site)
    return Published(slug=trip.id, changed=folder.wrote, site=site)


def withdraw(slug: str, folder: Path, *, web: Path, now: datetime) -> SiteList:
    """Takes a trip off the site. Raises ``BadInput`` where the folder has no such trip.

    What was downloaded before cannot be called back."""
    site = read_site(folder)
    if site is None or all(entry.slug != slug for entry in site.trips):
        known = ", ".join(entry.slug for entry in site.trips) if site is not None else ""
        mend = f"Name one that is published there: {known}." if known else "Nothing is published there."
        raise BadInput(Finding(field="slug", value=shorten(slug), mend=shorten(mend)))
    trips = tuple(entry for entry in site.trips if entry.slug != slug)
    left = Folder(folder, web)
    site = left.write_app(msgspec.structs.replace(site, trips=trips, updated=now), now)
    left.write_list(site)
    left.remove_trip(slug)
    return site


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
    ready: Ready,
    digest: str,
    look: str,
    updated: datetime,
) -> Entry:
    known, site = ready.known, ready.site
    trip, deals = article.trip, article.deals
    stores = [store.name for store in trip.stores if any(deal.deal.store == store.id for deal in deals)]
    count = f"{len(deals)} deal{'' if len(deals) == 1 else 's'}"
    return Entry(
        slug=trip.id,
        key=ready.key,
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
