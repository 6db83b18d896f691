"""Puts the application together: the store, the plans, the routes, what holds for all of them."""

from __future__ import annotations

from collections.abc import AsyncGenerator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from litestar import Litestar
from litestar.config.compression import CompressionConfig
from litestar.di import Provide
from litestar.exceptions import HTTPException
from litestar.openapi import OpenAPIConfig
from litestar.openapi.plugins import JsonRenderPlugin
from litestar.plugins.jinja import JinjaTemplateEngine
from litestar.template import TemplateConfig

from .errors import answer_bad_input, answer_fault, answer_http_error
from .intake.bad_input import BadInput, Finding, shorten
from .plans import PlanShelf
from .routes import assets, desk, sync, trips
from .security import LARGEST_BODY, both, headers, headers_on_everything, hosts_allowed, same_origin
from .shipped import demo_folder, web_folder
from .store.interface import Store, StoreUnusable
from .store.sqlite import SqliteStore


def create_app(data: Path, *, demo: bool = False, allowed_hosts: Sequence[str] = ()) -> Litestar:
    """The application over the data in ``data`` (made if need be; ``BadInput`` if it cannot be used).

    ``demo``: a store without any trip starts with the demo household's. ``allowed_hosts``: further
    names that this server goes by, beside localhost, its own and its addresses.
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
    files = assets.Shelf(web, assets.shell(pages, import_map))
    store = SqliteStore(data)
    try:
        store.prepare()
    except StoreUnusable as error:
        raise BadInput(Finding(field="data", value=shorten(str(data)), mend=str(error))) from error
    plan_shelf = PlanShelf()

    @asynccontextmanager
    async def open_store(_: Litestar) -> AsyncGenerator[None, None]:
        await store.open()
        try:
            if demo:
                await _fill_with_demo(store)
            yield
        finally:
            await store.close()

    return Litestar(
        route_handlers=[
            assets.root_file,
            assets.icon,
            assets.web_file,
            assets.precache,
            trips.trips_router,
            trips.schema,
            sync.sync_router,
            desk.desk_router,
        ],
        dependencies={
            "store": Provide(lambda: store, sync_to_thread=False),
            "plan_shelf": Provide(lambda: plan_shelf, sync_to_thread=False),
            "files": Provide(lambda: files, sync_to_thread=False),
        },
        lifespan=[open_store],
        before_request=both(hosts_allowed(allowed_hosts), same_origin),
        before_send=[headers_on_everything(headers(import_map))],
        request_max_body_size=LARGEST_BODY,
        compression_config=CompressionConfig(backend="gzip", exclude_opt_key="packed_here"),
        template_config=TemplateConfig(instance=JinjaTemplateEngine.from_environment(pages)),
        exception_handlers={
            BadInput: answer_bad_input,
            HTTPException: answer_http_error,
            Exception: answer_fault,
        },
        # Logging is for whoever runs the application to arrange; uvicorn does under `serve`.
        logging_config=None,
        # The document alone: the framework's own pages for it would fetch from third parties.
        openapi_config=OpenAPIConfig(
            title="Counterfoil", version="1", path="/api/openapi", render_plugins=[JsonRenderPlugin()]
        ),
    )


async def _fill_with_demo(store: Store) -> None:
    if not await store.trips():
        await trips.save_trip(store, (demo_folder() / "trip.json").read_bytes())
