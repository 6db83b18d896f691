"""A reader carries a published trip: her own prices, coupons and needs, planned on her phone alone.

The folder lies in a sub-folder of a plain file server, as it would at any host. What she is told is held to
the Python engine's plan of the same changed trip. The figures are worked by hand in ``reader.py``.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from playwright.sync_api import BrowserContext, expect

from counterfoil.engine.offers import ShelfPrice, Trip
from counterfoil.shipped import web_folder
from tests.browser.reader import (
    SLUG,
    TITLE,
    Reader,
    plain,
    published_trip,
    put_out,
    regional,
    same_as_python,
)
from tests.browser.saturday import OATS, RAZORS, SHAMPOO, SOAP
from tests.served import Static


@pytest.fixture
def host(tmp_path: Path) -> Iterator[tuple[Path, Static]]:
    """A file server, and the folder that it serves."""
    root = tmp_path / "host"
    root.mkdir()
    server = Static(root)
    yield root, server
    server.stop()


@pytest.fixture
def site(host: tuple[Path, Static]) -> str:
    """The trip, published into a sub-folder of the host."""
    root, server = host
    put_out(root / "deals")
    return f"{server.url}/deals"


@pytest.fixture
def reader(phone: BrowserContext, site: str) -> Iterator[Reader]:
    """A reader at the site, of whose browser nothing may complain and who asks nobody else."""
    found = Reader(phone, site)
    yield found
    assert found.faults == []
    assert [address for address in found.asked if not address.startswith((f"{site}/", "blob:"))] == []


def test_a_trip_is_carried_with_the_published_plan(reader: Reader, host: tuple[Path, Static]) -> None:
    reader.carry()
    reader.totals(out_of_pocket="$12.99", net="$12.99")
    reader.changes("As published.", "Best possible")
    expect(reader.page).to_have_url(f"{reader.url}/carry.html#/mine")
    assert plain(msgspec.convert(reader.stored()["trip"], Trip)) == plain(published_trip(host[0] / "deals"))


def test_her_prices_coupons_and_needs_are_planned_as_python_plans_them(
    reader: Reader, host: tuple[Path, Static]
) -> None:
    reader.carry()
    page = reader.page
    soap = reader.opened(SOAP)
    reader.enter(soap.get_by_label(f"{SOAP} Alder Row Grocers"), "2.99")
    # The other soap is 2.91 and has the same coupon: 2.31.
    reader.changes("Now also 1 × Larkmoor oat soap, 3 bars at Alder Row Grocers, stack $2.31.")
    reader.enter(page.get_by_label("$0.60 off one Larkmoor soap"), "0")
    reader.enter(page.get_by_label("$3.00 off Thistledown razors"), "1")
    razors = reader.opened(RAZORS)
    reader.enter(razors.get_by_label("You need"), "3")
    expect(razors.get_by_label("Welcome in all")).to_have_value("3")

    trip = published_trip(host[0] / "deals")
    copies = {"larkmoor-60": 0, "thistledown-300": 1}
    changed = msgspec.structs.replace(
        trip,
        prices=tuple(
            msgspec.structs.replace(tag, cents=299) if tag.product == "soap" else tag for tag in trip.prices
        ),
        coupons=tuple(
            msgspec.structs.replace(each, copies=copies.get(each.id, each.copies)) for each in trip.coupons
        ),
        wants=tuple(
            msgspec.structs.replace(want, need=3, welcome=3) if want.products == ("razors",) else want
            for want in trip.wants
        ),
    )
    expected = same_as_python(reader, changed)
    # Oats 1.50, oat soap 2.91 and 0.15 tax; razors 3 x 7.49 - 3.00 = 19.47 for a slip that pays the shampoo.
    assert expected.totals.net_cents == 150 + 291 + 15 + 1947 + 450 - 400
    reader.totals(out_of_pocket="$24.53", net="$24.53")
    reader.changes("Net now $24.53, was $12.99.")


def test_a_store_left_out_takes_its_deals_with_it(reader: Reader, host: tuple[Path, Static]) -> None:
    reader.carry()
    reader.page.get_by_role("checkbox", name="Bittern Lane Drugs").uncheck()
    reader.planned()
    reader.totals(out_of_pocket="$3.51", net="$3.51")
    reader.changes("No longer 2 × Thistledown razors, 4 at Bittern Lane Drugs.")
    expect(reader.page.get_by_text(f"2 × {RAZORS}: not to be had.")).to_be_visible()
    # Somewhere she must go.
    expect(reader.page.get_by_role("checkbox", name="Alder Row Grocers")).to_be_disabled()

    trip = published_trip(host[0] / "deals")
    only = msgspec.structs.replace(
        trip,
        stores=trip.stores[:1],
        prices=tuple(tag for tag in trip.prices if tag.store == "alder"),
        rewards=(),
    )
    same_as_python(reader, only)
    reader.page.get_by_role("checkbox", name="Bittern Lane Drugs").check()
    reader.planned()
    reader.totals(out_of_pocket="$12.99", net="$12.99")
    reader.changes("As published.")


def test_her_region_decides_a_coupons_face(reader: Reader, host: tuple[Path, Static]) -> None:
    reader.carry()
    reader.page.get_by_label("Your region").select_option("coast")
    reader.planned()
    reader.changes("Larkmoor soap, 3 bars: stack now $2.09, was $1.89.")
    reader.totals(out_of_pocket="$13.19", net="$13.19")
    trip = published_trip(host[0] / "deals")
    coast = msgspec.structs.replace(
        trip,
        region="coast",
        stores=tuple(msgspec.structs.replace(store, region="coast") for store in trip.stores),
    )
    same_as_python(reader, coast)


def test_what_is_no_price_or_count_is_told_and_changes_nothing(reader: Reader) -> None:
    reader.carry()
    soap = reader.opened(SOAP)
    field = soap.get_by_label(f"{SOAP} Alder Row Grocers")
    field.fill("7,4,9")
    field.blur()
    expect(soap.get_by_role("alert").filter(has_text="write digits with a point")).to_be_visible()
    expect(field).to_have_attribute("aria-invalid", "true")
    need = soap.get_by_label("You need")
    need.fill("many")
    need.blur()
    expect(soap.get_by_text("Write a whole number, 0 to 999.")).to_be_visible()
    reader.totals(out_of_pocket="$12.99", net="$12.99")
    field.fill("2,59")
    field.blur()
    expect(field).to_have_value("2.59")
    expect(field).to_have_attribute("aria-invalid", "false")
    reader.planned()
    # Soap 0.10 dearer, tax 0.13 on 2.59.
    reader.totals(out_of_pocket="$13.10", net="$13.10")


def test_everything_goes_back_to_as_it_was_published(reader: Reader) -> None:
    reader.carry()
    reader.enter(reader.page.get_by_label("$3.00 off Thistledown razors"), "0")
    reader.totals(out_of_pocket="$18.99", net="$18.99")
    reader.page.get_by_role("button", name="Put everything back as published").tap()
    reader.planned()
    reader.totals(out_of_pocket="$12.99", net="$12.99")
    expect(reader.page.get_by_label("$3.00 off Thistledown razors")).to_have_value("2")


def test_with_the_host_gone_she_reads_plans_walks_and_pays(reader: Reader, host: tuple[Path, Static]) -> None:
    reader.carry().kept()
    host[1].stop()
    reader.phone.set_offline(True)
    page = reader.page
    page.reload()
    reader.settled()
    reader.totals(out_of_pocket="$12.99", net="$12.99")
    oats = reader.opened(OATS)
    reader.enter(oats.get_by_label(f"{OATS} Alder Row Grocers"), "1.80")
    reader.totals(out_of_pocket="$12.79", net="$12.79")
    reader.go("Aisle")
    for product in (OATS, SOAP, RAZORS, SHAMPOO):
        reader.take(product)
    reader.go("Register")
    for total in ("$3.31", "$8.98", "$4.50"):
        reader.done(total)
    expect(page.get_by_text("Everything is through the register.")).to_be_visible()
    page.reload()
    reader.settled()
    expect(page.get_by_text("Everything is through the register.")).to_be_visible()
    page.get_by_role("link", name="Read it").tap()
    expect(page.get_by_role("heading", name=TITLE)).to_be_visible()
    page.get_by_role("link", name="All trips").first.tap()
    expect(page.get_by_role("heading", name="Deal plans by Wren Tallow")).to_be_visible()
    # What the browser says of a host that does not answer is no fault of the page.
    reader.faults = [fault for fault in reader.faults if "net::ERR_" not in fault]


def test_an_empty_shelf_is_replanned_from_her_own_trip(reader: Reader) -> None:
    reader.carry()
    reader.enter(reader.page.get_by_label("$0.60 off one Larkmoor soap"), "0")
    reader.go("Aisle")
    sheet = reader.empty(SOAP)
    sheet.get_by_role("button", name="Larkmoor oat soap, 3 bars").tap()
    reader.told("Shelf empty")
    # 2.91 and 0.15 tax in place of 2.49 and 0.12, without the coupon either way.
    reader.totals(out_of_pocket="$14.04", net="$14.04")
    reader.page.get_by_role("button", name="Undo").tap()
    reader.told("Taken back")
    reader.totals(out_of_pocket="$13.59", net="$13.59")


def test_a_trip_that_the_planner_changed_waits_for_her_word(
    reader: Reader, host: tuple[Path, Static]
) -> None:
    reader.carry()
    reader.enter(reader.page.get_by_label("$3.00 off Thistledown razors"), "1")
    reader.totals(out_of_pocket="$15.99", net="$15.99")
    trip = regional()
    dearer = tuple(
        msgspec.structs.replace(tag, cents=220) if tag.product == "oats" else tag for tag in trip.prices
    )
    put_out(host[0] / "deals", msgspec.structs.replace(trip, prices=dearer))
    reader.page.reload()
    reader.settled()
    expect(reader.page.get_by_text("The planner changed this trip.")).to_be_visible()
    reader.totals(out_of_pocket="$15.99", net="$15.99")
    reader.page.get_by_role("button", name="Take the change").tap()
    reader.planned()
    # Oats 0.20 dearer; what is hers stays hers.
    reader.totals(out_of_pocket="$16.19", net="$16.19")
    expect(reader.page.get_by_label("$3.00 off Thistledown razors")).to_have_value("1")
    expect(reader.page.get_by_text("The planner changed this trip.")).to_be_hidden()


def test_a_newer_app_waits_for_her_word(reader: Reader, host: tuple[Path, Static], tmp_path: Path) -> None:
    reader.carry().kept()
    before = reader.page.locator("counterfoil-reader").get_attribute("data-app")
    web = tmp_path / "web"
    shutil.copytree(web_folder(), web, ignore=shutil.ignore_patterns("node_modules"))
    module = web / "reader" / "whole-number.js"
    module.write_text(module.read_text("utf-8") + "// a newer one\n", "utf-8")
    after = put_out(host[0] / "deals", web=web).site.app
    assert after != before
    reader.page.reload()
    reader.settled()
    assert reader.page.locator("counterfoil-reader").get_attribute("data-app") == before
    reader.page.get_by_role("button", name="Change over now").tap()
    expect(reader.page.locator(f"counterfoil-reader[data-app='{after}']")).to_be_visible()
    reader.settled()
    reader.totals(out_of_pocket="$12.99", net="$12.99")


def test_two_sites_of_one_host_do_not_mix(reader: Reader, host: tuple[Path, Static]) -> None:
    trip = regional()
    cheaper = tuple(
        msgspec.structs.replace(tag, cents=100) if tag.product == "oats" else tag for tag in trip.prices
    )
    put_out(host[0] / "other", msgspec.structs.replace(trip, prices=cheaper))
    reader.carry().kept()
    reader.enter(reader.page.get_by_label("$3.00 off Thistledown razors"), "1")
    other = Reader(reader.phone, f"{host[1].url}/other")
    other.carry().kept()
    other.totals(out_of_pocket="$11.99", net="$11.99")
    expect(other.page.get_by_label("$3.00 off Thistledown razors")).to_have_value("2")
    reader.page.reload()
    reader.settled()
    reader.totals(out_of_pocket="$15.99", net="$15.99")


def test_several_trips_are_carried_and_taken_in_turn(reader: Reader, host: tuple[Path, Static]) -> None:
    trip = regional()
    later = tuple(
        ShelfPrice(store=tag.store, product=tag.product, cents=tag.cents + 10, place=tag.place)
        for tag in trip.prices
    )
    put_out(host[0] / "deals", msgspec.structs.replace(trip, id="later", day="2026-12-12", prices=later))
    reader.page.goto(f"{reader.url}/carry.html#/{SLUG}")
    reader.settled()
    reader.go("Trips")
    reader.page.get_by_role("button", name=f"Carry: {TITLE}").tap()
    reader.settled()
    # One of each, two razors: five units, 0.10 more each; the tax on 2.59 is a cent more.
    reader.totals(out_of_pocket="$13.50", net="$13.50")
    reader.go("Trips")
    reader.page.get_by_role("button", name=f"Take in hand: {TITLE}").tap()
    reader.settled()
    reader.totals(out_of_pocket="$12.99", net="$12.99")


def test_a_trip_that_is_not_there_is_told(reader: Reader) -> None:
    reader.page.goto(f"{reader.url}/carry.html#/2020-01-01")
    expect(reader.page.get_by_role("alert")).to_contain_text("This trip could not be fetched.")
    expect(reader.page.get_by_role("button", name=f"Carry: {TITLE}")).to_be_visible()
    reader.faults = [fault for fault in reader.faults if "404" not in fault]
