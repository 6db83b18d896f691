"""HTML and the feed, out of the templates ``published*`` in ``web/templates/``.

A static host sets no headers, so each page brings its own policy: nothing from elsewhere, no inline style,
and no script at all but on the page that carries a trip. All links are relative: the folder works wherever
it lies. Only the feed has whole addresses, as its readers ask for it from anywhere.
"""

from __future__ import annotations

import base64
import hashlib
import json
from datetime import UTC, date, datetime
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from ...engine.money import show
from ...engine.papers import Alternative
from .app_files import AppFiles
from .articles import Article
from .site_list import Entry, SiteList
from .structured_data import json_ld

_READING = (
    "default-src 'none'",
    "style-src 'self'",
    "img-src 'self'",
    "manifest-src 'self'",
    "base-uri 'none'",
    "form-action 'none'",
)


class Pages:
    """The pages of one site. ``web``: holds ``templates/``; ``stylesheet``: its path in the site."""

    def __init__(self, web: Path, stylesheet: str) -> None:
        self._stylesheet = stylesheet
        self._templates = Environment(
            loader=FileSystemLoader(web / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._templates.filters["long_day"] = long_day  # pyright: ignore[reportArgumentType]
        self._templates.filters["moment"] = moment  # pyright: ignore[reportArgumentType]

    def trip(self, site: SiteList, entry: Entry, article: Article, introduction: str) -> bytes:
        """``trips/<slug>/index.html``."""

        def money(cents: int) -> str:
            return show(cents, article.trip.currency, article.trip.exponent)

        return self._page(
            "published_trip.html",
            root="../../",
            policy="; ".join(_READING),
            site=site,
            entry=entry,
            article=article,
            introduction=paragraphs(introduction),
            # Already safe inside a script: structured_data.py escapes what could end it.
            json_ld=Markup(json_ld(article)),
            money=money,
            better=_better(money),
        )

    def index(self, site: SiteList) -> bytes:
        """``index.html``: the trips, newest first."""
        return self._page(
            "published_index.html", root="", policy="; ".join(_READING), site=site, trips=site.newest_first
        )

    def carry(self, site: SiteList, app: AppFiles) -> bytes:
        """``carry.html``: the app that carries a trip."""
        import_map = app.import_map()
        allowed = base64.b64encode(hashlib.sha256(import_map.encode()).digest()).decode()
        policy = (
            "default-src 'none'",
            f"script-src 'self' 'sha256-{allowed}' 'wasm-unsafe-eval'",
            "style-src 'self'",
            "img-src 'self' blob:",
            "connect-src 'self'",
            "worker-src 'self'",
            "manifest-src 'self'",
            "form-action 'none'",
            "base-uri 'none'",
        )
        return self._page(
            "published_carry.html",
            root="",
            policy="; ".join(policy),
            site=site,
            app=app,
            import_map=Markup(import_map),
        )

    def feed(self, site: SiteList) -> bytes:
        """``feed.xml``: Atom 1.0 (RFC 4287)."""
        return (
            self._templates.get_template("published_feed.xml")
            .render(site=site, trips=site.newest_first)
            .encode()
        )

    def manifest(self, site: SiteList) -> bytes:
        """``manifest.webmanifest`` (W3C Web Application Manifest): the app starts where a trip is carried."""
        icons = [
            {"src": f"icons/{name}.png", "sizes": f"{size}x{size}", "type": "image/png"} | purpose
            for name, size, purpose in (
                ("icon-192", 192, {}),
                ("icon-512", 512, {}),
                ("maskable-192", 192, {"purpose": "maskable"}),
                ("maskable-512", 512, {"purpose": "maskable"}),
            )
        ]
        return json.dumps(
            {
                "id": "./carry.html",
                "name": site.title,
                "short_name": site.title[:30],
                "description": "Deal plans to read, to change to your own prices and coupons, and to carry.",
                "lang": "en",
                "dir": "ltr",
                "start_url": "./carry.html",
                "scope": "./",
                "display": "standalone",
                "background_color": "#e3e7df",
                "theme_color": "#f7f5ef",
                "icons": [{"src": "icons/icon.svg", "sizes": "any", "type": "image/svg+xml"}, *icons],
            },
            indent=2,
            ensure_ascii=False,
        ).encode()

    def _page(self, template: str, **context: object) -> bytes:
        page = self._templates.get_template(template)
        return page.render(stylesheet=self._stylesheet, **context).encode()


def paragraphs(text: str) -> list[str]:
    """Paragraphs of a text, parted by empty lines."""
    return [each.strip() for each in text.split("\n\n") if each.strip()]


def long_day(day: str) -> str:
    """``Saturday, 5 December 2026`` of an ISO date."""
    found = date.fromisoformat(day)
    return f"{found:%A}, {found.day} {found:%B} {found.year}"


def moment(at: datetime) -> str:
    """A date-time of RFC 3339, in UTC, to the second."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _better(money: object) -> object:
    def words(alternative: Alternative) -> str:
        cents = alternative.trip_value_change_cents
        if not cents:
            return "the same"
        return f"{money(abs(cents))} {'worse' if cents > 0 else 'better'}"  # type: ignore[operator]

    return words
