"""``counterfoil publish`` and ``withdraw``: a folder of pages for readers, for any host of files."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ..after.publishing.choices import PublishChoices, checked
from ..after.publishing.site import made_ready, publish, withdraw
from ..intake.bad_input import BadInput, Finding, shorten
from ..intake.documents import read_trip
from ..shipped import web_folder


def add_publish(commands: Any) -> None:
    """Both commands. ``commands``: argparse keeps the type of its subparsers to itself."""
    making: argparse.ArgumentParser = commands.add_parser(
        "publish",
        help="make pages of a trip for readers",
        description="Makes a folder of static pages of a trip for readers, for any host. Nothing of the "
        "household is told unless an option says so, and nothing is sent anywhere.",
    )
    making.add_argument("trip", type=Path, metavar="TRIP.json", help="the trip (counterfoil schema trip)")
    making.add_argument(
        "folder", type=Path, metavar="FOLDER", help="empty, or one that was published into before"
    )
    making.add_argument("--address", required=True, metavar="URL", help="where the folder will lie")
    making.add_argument("--author", required=True, metavar="NAME", help="under which name it is published")
    making.add_argument("--title", default="", help="of this trip's page; its day and stores if left out")
    making.add_argument("--site-title", default="", help="of the whole site")
    making.add_argument(
        "--introduction", default="", metavar="TEXT", help="paragraphs, parted by empty lines"
    )
    making.add_argument(
        "--deal",
        action="append",
        default=None,
        metavar="WANT",
        help="a want to tell, by its id; may be repeated; all that the plan buys if left out",
    )
    for option, told in (
        ("--counts", "your needs, and how many you bought"),
        ("--where", "where each coupon is from"),
        ("--notes", "your notes on stores, goods and shelves"),
        ("--register-coupons", "coupons that a register printed for you"),
    ):
        making.add_argument(option, action="store_true", help=f"also tell {told}")
    making.add_argument("--no-stock-up", action="store_true", help="do not tell your stock-up prices")
    making.set_defaults(run=_publish)

    taking: argparse.ArgumentParser = commands.add_parser(
        "withdraw",
        help="take a trip out of a published folder",
        description="Takes a trip out of a published folder.",
    )
    taking.add_argument("slug", metavar="SLUG", help="the trip's folder under trips/")
    taking.add_argument("folder", type=Path, metavar="FOLDER")
    taking.set_defaults(run=_withdraw)


def _publish(chosen: argparse.Namespace) -> int:
    trip = read_trip(chosen.trip)
    choices = checked(
        PublishChoices(
            address=chosen.address,
            author=chosen.author,
            title=chosen.title,
            site_title=chosen.site_title,
            introduction=chosen.introduction,
            wants=None if chosen.deal is None else tuple(chosen.deal),
            counts=chosen.counts,
            stock_up=not chosen.no_stock_up,
            notes=chosen.notes,
            where=chosen.where,
            register_coupons=chosen.register_coupons,
        )
    )

    from ..engine.planner import plan  # brings the solver, which bad input need not wait for

    now = datetime.now(UTC).replace(microsecond=0)
    ready = made_ready(trip, plan(trip), chosen.folder, choices, now)

    def told(done: int, of: int) -> None:
        if sys.stderr.isatty():
            print(
                f"\r{done} of {of} deals weighed", end="" if done < of else "\n", file=sys.stderr, flush=True
            )

    try:
        published = publish(ready, web=web_folder(), now=now, progress=told)
    except OSError as error:
        raise _not_written(chosen.folder, error) from error
    page = chosen.folder / "trips" / published.slug / "index.html"
    print(f"{'Published' if published.changed else 'Unchanged'}: {page}")
    print(f"Put the whole folder at {published.site.address}")
    return 0


def _withdraw(chosen: argparse.Namespace) -> int:
    try:
        withdraw(chosen.slug, chosen.folder, web=web_folder(), now=datetime.now(UTC).replace(microsecond=0))
    except OSError as error:
        raise _not_written(chosen.folder, error) from error
    print(f"Withdrawn: trips/{chosen.slug}. Delete it at your host too.")
    return 0


def _not_written(folder: Path, error: OSError) -> BadInput:
    mend = f"The folder cannot be written ({(error.strerror or type(error).__name__).lower()}): name another."
    return BadInput(Finding(field="FOLDER", value=shorten(str(folder)), mend=mend))
