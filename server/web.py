"""Puts the application together: the store, the plans, the routes, what holds for all of them."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, Callable, Sequence
from contextlib import asynccontextmanager
from datetime import date
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from litestar import Litestar
from litestar.config.compression import CompressionConfig
from litestar.config.csrf import CSRFConfig
from litestar.datastructures import State
from litestar.di import Provide
from litestar.exceptions import HTTPException
from litestar.middleware import DefineMiddleware
from litestar.plugins.jinja import JinjaTemplateEngine
from litestar.stores.memory import MemoryStore
from litestar.template import TemplateConfig

from .access import KeyReader
from .demo_filling import fill_with_demo
from .engine.measure import unit_word
from .engine.offers import Trip
from .errors import answer_bad_input, answer_fault, answer_http_error, answer_unavailable
from .homes import Home
from .importing import Importing
from .intake.bad_input import BadInput, Finding, shorten
from .intake.day_words import Fineness, day_in_words, moment_in_words
from .ledger import Ledger
from .notebook import Notebook
from .passing import PassingFiles
from .plans import PlanShelf
from .press import PUBLISHED, Press
from .reach import Reach
from .routes import (
    assets,
    binder,
    calendar,
    desk,
    devices,
    due,
    household_settings,
    imports,
    larder,
    offers,
    pairing,
    papers,
    prices,
    publishing,
    settle,
    staples,
    sync,
    trip_desk,
    trips,
    trust,
)
from .routes.interface import openapi_config
from .routes.preloads import first_modules
from .security import (
    LARGEST_BODY,
    body_in_time,
    each_of,
    headers,
    headers_on_everything,
    hosts_allowed,
    not_packed,
    same_origin,
)
from .shipped import web_folder
from .store.calendar_key import CalendarKey
from .store.imported import SqliteImports
from .store.interface import StoreUnavailable, StoreUnusable
from .store.kept_plans import SqliteKeptPlans
from .store.keyring import SqliteKeyring
from .store.notes import SqliteNotes
from .store.photos import SqlitePhotos
from .store.published import SqlitePublished
from .store.records import SqliteRecords
from .store.shared_texts import SqliteSharedTexts
from .store.sqlite import SqliteStore
from .store.sqlite_facts import SqliteFacts
from .warming import warm

SWEEP_SECONDS = 60  # between clearing away who tried how often


def create_app(
    data: Path,
    *,
    demo: bool = False,
    allowed_hosts: Sequence[str] = (),
    trusts_this_machine: bool = False,
    reach: Reach | None = None,
    today: Callable[[], str] | None = None,
) -> Litestar:
    """The application over the data in ``data`` (made if need be; ``BadInput`` if it cannot be used).

    ``demo``: a store without any trip or record starts with the demo household's, moved to the coming
    week. ``allowed_hosts``: further names that this server goes by, beside localhost, its own and its
    addresses.
    ``trusts_this_machine``: who sits here needs no key (never behind a proxy). ``reach``:
    where others reach it. ``today``: the ISO day that pages go by, this machine's unless given.
    """
    web = web_folder()
    pages = Environment(
        loader=FileSystemLoader(web / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    import_map = assets.import_map(web)
    pages.globals["unit_word"] = unit_word  # pyright: ignore[reportArgumentType]  # typed by its defaults
    pages.globals["import_map"] = import_map  # pyright: ignore[reportArgumentType]  # typed by its defaults
    modules = first_modules(web)
    files = assets.Shelf(
        web,
        assets.shell(pages, import_map, modules),
        assets.shell(pages, import_map, modules, fetched=True),
    )
    store = SqliteStore(data)
    try:
        forms_secret = store.prepare()
    except StoreUnusable as error:
        raise BadInput(Finding(field="data", value=shorten(str(data)), mend=str(error))) from error
    plan_shelf = PlanShelf(SqliteKeptPlans(store))
    keyring = SqliteKeyring(store)
    home = Home(SqliteRecords(store))
    facts = SqliteFacts(store)
    importing = Importing(home, SqliteImports(store), PassingFiles(data / "passing"))
    notebook = Notebook(SqliteNotes(store))
    photos = SqlitePhotos(store)
    ledger = Ledger(store, facts, home, notebook.rows)
    calendar_key = CalendarKey(store)
    shared_texts = SqliteSharedTexts(store)
    reach = reach or Reach()
    today = today or _local_day
    pages.filters |= _day_filters(today)
    press = Press(data / PUBLISHED, web, SqlitePublished(store))
    attempts = MemoryStore()

    @asynccontextmanager
    async def open_store(_: Litestar) -> AsyncGenerator[None, None]:
        await store.open()
        sweeping = asyncio.create_task(_sweep(attempts))
        try:
            if demo:
                await fill_with_demo(store, home, facts, ledger, notebook, today())
            press.open()
            warming = asyncio.create_task(warm(ledger, home, pages, today))
            try:
                yield
            finally:
                warming.cancel()
                # It may be in the middle of a question to the store, which closes next.
                await asyncio.gather(warming, return_exceptions=True)
        finally:
            sweeping.cancel()
            plan_shelf.close()
            await press.close()
            await store.close()

    return Litestar(
        route_handlers=[
            assets.shell_page,
            assets.installed_file,
            assets.icon,
            assets.web_file,
            assets.precache,
            assets.precache_pack,
            trips.trips_router,
            trips.schema,
            due.due_router,
            sync.sync_router,
            desk.desk_router,
            trip_desk.trip_desk_router,
            binder.binder_router,
            papers.papers_router,
            calendar.calendar_router,
            calendar.feed_router,
            larder.larder_router,
            staples.staples_router,
            prices.prices_router,
            household_settings.settings_router,
            settle.settle_router,
            publishing.publishing_router,
            offers.offers_router,
            imports.imports_router,
            offers.inbox_router,
            devices.devices_router,
            pairing.pairing_router,
            trust.trust_router,
        ],
        dependencies={
            "store": Provide(lambda: store, sync_to_thread=False),
            "plan_shelf": Provide(lambda: plan_shelf, sync_to_thread=False),
            "home": Provide(lambda: home, sync_to_thread=False),
            "shared_texts": Provide(lambda: shared_texts, sync_to_thread=False),
            "importing": Provide(lambda: importing, sync_to_thread=False),
            "facts": Provide(lambda: facts, sync_to_thread=False),
            "ledger": Provide(lambda: ledger, sync_to_thread=False),
            "notebook": Provide(lambda: notebook, sync_to_thread=False),
            "photos": Provide(lambda: photos, sync_to_thread=False),
            "calendar_key": Provide(lambda: calendar_key, sync_to_thread=False),
            "keyring": Provide(lambda: keyring, sync_to_thread=False),
            "reach": Provide(lambda: reach, sync_to_thread=False),
            "today": Provide(lambda: today, sync_to_thread=False),
            "files": Provide(lambda: files, sync_to_thread=False),
            "press": Provide(lambda: press, sync_to_thread=False),
        },
        state=State({"keyring": keyring, "store": store}),
        lifespan=[open_store],
        middleware=[
            body_in_time,
            DefineMiddleware(KeyReader, keyring=keyring, trusts_this_machine=trusts_this_machine),
        ],
        csrf_config=CSRFConfig(
            secret=forms_secret,
            cookie_name="counterfoil-form",
            cookie_httponly=True,
            cookie_samesite="strict",
        ),
        stores={"rate_limit": attempts},
        before_request=each_of(
            hosts_allowed(allowed_hosts), trust.secure_beyond(reach), same_origin, not_packed
        ),
        before_send=[headers_on_everything(headers(import_map))],
        request_max_body_size=LARGEST_BODY,
        compression_config=CompressionConfig(backend="gzip", exclude_opt_key="packed_here"),
        template_config=TemplateConfig(instance=JinjaTemplateEngine.from_environment(pages)),
        exception_handlers={
            BadInput: answer_bad_input,
            StoreUnavailable: answer_unavailable,
            HTTPException: answer_http_error,
            Exception: answer_fault,
        },
        # Logging is for whoever runs the application to arrange; uvicorn does under `serve`.
        logging_config=None,
        openapi_config=openapi_config(sync.Batch, Trip),
    )


def _local_day() -> str:
    return date.today().isoformat()


def _day_filters(today: Callable[[], str]) -> dict[str, Callable[..., str]]:
    """A page's days and moments as a person says them: ``{{ trip.day | day_in_words }}``,
    ``{{ device.last_seen | moment_in_words(to="hours") }}``."""

    def day(text: str) -> str:
        return day_in_words(text, today())

    def moment(text: str, to: Fineness = "minutes") -> str:
        return moment_in_words(text, today(), to=to)

    return {"day_in_words": day, "moment_in_words": moment}


async def _sweep(attempts: MemoryStore) -> None:
    while True:
        await asyncio.sleep(SWEEP_SECONDS)
        await attempts.delete_expired()
