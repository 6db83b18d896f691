"""``/desk/settings``: what holds for every trip, unless a trip says otherwise."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from litestar import Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromQuery
from litestar.response import Template

from ..access import household
from ..engine.money import exponent_of
from ..engine.offers import Settings, Worth
from ..errors import status_of
from ..home.household import SETTINGS_ID, HouseholdSettings
from ..home.saying import percent
from ..homes import Home, Snapshot
from ..intake.bad_input import BadInput
from .fields import Fields, Typed
from .household_page import Asked, Shown, device_of, fields_of, go_to

LABELS = {
    "currency": "Currency",
    "region": "Region",
    "slip": "A slip",
    "gift_card": "A gift card",
    "points": "Points",
    "rebate": "A rebate",
    "further_transaction": "A further transaction at a store",
    "further_store": "A further store",
    "days_to_next_visit": "Days to the next visit",
    "weeks_between_trips": "Weeks between trips",
    "stock_up_quantile": "Stock-up price",
    "remind_days": "Days before an end",
    "revision": "The settings",
}


@get("/")
async def settings_page(home: NamedDependency[Home], kept: FromQuery[str] = "") -> Template:
    """The settings on their form."""
    snapshot = await home.snapshot()
    return _page(snapshot, Fields.of(_filled(snapshot)).typed, _revision(snapshot), kept=bool(kept))


@post("/", status_code=HTTPStatus.OK)
async def change_settings(request: Asked, home: NamedDependency[Home]) -> Response[Any]:
    """Keeps the settings, or shows the form again."""
    snapshot = await home.snapshot()
    fields = await fields_of(request, snapshot)
    revision = fields.whole("revision", high=10**9) or 0
    try:
        settings = _read(fields)
        fields.finish()
        await home.save(
            [settings],
            words="Changed the settings",
            device=device_of(request),
            revisions={("settings", SETTINGS_ID): revision},
        )
    except BadInput as error:
        return _page(snapshot, fields.typed, revision, error=error)
    return go_to("/desk/settings?kept=yes")


settings_router = Router(
    "/desk/settings",
    route_handlers=[settings_page, change_settings],
    guards=[household],
    include_in_schema=False,
)


def _read(fields: Fields) -> HouseholdSettings:
    currency = fields.text("currency", needed="three letters, like USD").upper()
    if currency and not (currency.isascii() and currency.isalpha() and len(currency) == 3):
        fields.wrong("currency", "the three letters of ISO 4217, like USD or EUR")
        currency = "USD"

    def worth(name: str) -> int:
        bp = fields.percent(name)
        return 10_000 if bp is None else bp

    settings = Settings(
        worth=Worth(
            slip_bp=worth("slip"),
            gift_card_bp=worth("gift_card"),
            points_bp=worth("points"),
            rebate_bp=worth("rebate"),
        ),
        further_transaction_cents=fields.cents("further_transaction") or 0,
        further_store_cents=fields.cents("further_store") or 0,
        days_to_next_visit=_or(fields.whole("days_to_next_visit", high=365), 7),
    )
    return HouseholdSettings(
        currency=currency or "USD",
        exponent=exponent_of(currency or "USD"),
        region=fields.text("region"),
        settings=settings,
        weeks_between_trips=_or(fields.whole("weeks_between_trips", low=1, high=52), 1),
        stock_up_quantile=_or(fields.whole("stock_up_quantile", low=1, high=50), 20),
        remind_days=_or(fields.whole("remind_days", high=60), 3),
    )


def _or(number: int | None, otherwise: int) -> int:
    return otherwise if number is None else number


def _written(bp: int) -> str:
    return percent(bp).removesuffix(" %")


def _filled(snapshot: Snapshot) -> dict[str, list[str]]:
    settings, shown = snapshot.settings, Shown(snapshot)
    of_trip, worth = settings.settings, settings.settings.worth
    return {
        "currency": [settings.currency],
        "region": [settings.region],
        "slip": [_written(worth.slip_bp)],
        "gift_card": [_written(worth.gift_card_bp)],
        "points": [_written(worth.points_bp)],
        "rebate": [_written(worth.rebate_bp)],
        "further_transaction": [shown.written(of_trip.further_transaction_cents)],
        "further_store": [shown.written(of_trip.further_store_cents)],
        "days_to_next_visit": [str(of_trip.days_to_next_visit)],
        "weeks_between_trips": [str(settings.weeks_between_trips)],
        "stock_up_quantile": [str(settings.stock_up_quantile)],
        "remind_days": [str(settings.remind_days)],
    }


def _revision(snapshot: Snapshot) -> int:
    return snapshot.revisions.get(("settings", SETTINGS_ID), 0)


def _page(
    snapshot: Snapshot, typed: Typed, revision: int, *, kept: bool = False, error: BadInput | None = None
) -> Template:
    return Template(
        "larder/settings.html",
        context={
            "typed": typed,
            "revision": revision,
            "kept": kept,
            "regions": sorted({store.region for store in snapshot.stores.values() if store.region}),
            "findings": error.findings if error else (),
            "labels": LABELS,
        },
        status_code=int(status_of(error)) if error else int(HTTPStatus.OK),
    )
