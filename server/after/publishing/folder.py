"""The published folder as files: each swapped in whole, only where it differs, after what it refers to.

::

    index.html  feed.xml  site.json  manifest.webmanifest  icons/  styles/reader-<hash>.css
    carry.html  sw.js     app/<hash>/...                   what a reader's phone runs
    trips/<slug>/index.html                                the article, which needs no script
    trips/<slug>/trip.json                                 the same trip and plan, to be carried
    trips/<slug>/edition.json                              what the article was made of, for the publisher

The service worker lies at the root because its reach is its own folder: no static host can widen that.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import msgspec

from .app_files import AppFiles, app_files
from .pages import Pages
from .site_list import SITE_FILE, LeftApp, SiteList

APP_KEPT_DAYS = 30  # after a newer one has replaced it
_ICONS = ("icon.svg", "icon-180.png", "icon-192.png", "icon-512.png", "maskable-192.png", "maskable-512.png")
_PASSING = ".passing"  # a file that is being written


class KeptFile(msgspec.Struct, frozen=True, kw_only=True):
    """One file that the service worker keeps: its path from the site's root, SHA-256 (hex), bytes."""

    url: str
    hash: str
    bytes: int


class KeptFiles(msgspec.Struct, frozen=True, kw_only=True):
    """``app/<hash>/files.json``."""

    app: str
    files: tuple[KeptFile, ...]


class Folder:
    """The folder of one site. ``web``: the project's files for browsers."""

    def __init__(self, folder: Path, web: Path) -> None:
        self.folder = folder
        self.wrote = False
        self._web = web
        self.pages = Pages(web, self._stylesheet()[0])

    def look(self) -> str:
        """A hash of what an article's page looks like, whatever it tells."""
        digest = hashlib.sha256(self._stylesheet()[0].encode())
        for name in ("published.html", "published_trip.html"):
            digest.update((self._web / "templates" / name).read_bytes())
        return digest.hexdigest()[:16]

    def write_app(self, site: SiteList, now: datetime) -> SiteList:
        """What every trip leads to; the site with its app of today."""
        self.write(*self._stylesheet())
        for name in _ICONS:
            self.write(f"icons/{name}", (self._web / "icons" / name).read_bytes())
        worker = (self._web / "sw" / "reader-sw.js").read_bytes()
        app = app_files(self._web, worker, (self._web / "templates" / "published_carry.html").read_bytes())
        for path, body in app.files.items():
            self.write(f"app/{app.hash}/{path}", body)
        carry, manifest = self.pages.carry(site, app), self.pages.manifest(site)
        self.write(f"app/{app.hash}/files.json", msgspec.json.encode(_kept_files(app, carry, manifest)))
        self.write("sw.js", worker)
        self.write("manifest.webmanifest", manifest)
        self.write("carry.html", carry)
        return _with_app(site, app, now)

    def write_list(self, site: SiteList) -> None:
        """What leads to the trips; then apps that nobody asks for any more are cleared away."""
        self.write("index.html", self.pages.index(site))
        self.write("feed.xml", self.pages.feed(site))
        self.write(SITE_FILE, msgspec.json.format(msgspec.json.encode(site), indent=1))
        kept = {site.app, *(left.hash for left in site.left_apps)}
        for path in (self.folder / "app").iterdir():
            if path.is_dir() and path.name not in kept:
                shutil.rmtree(path, ignore_errors=True)

    def remove_trip(self, slug: str) -> None:
        """Takes a trip's files away."""
        shutil.rmtree(self.folder / "trips" / slug, ignore_errors=True)

    def write(self, path: str, body: bytes) -> None:
        """One file, unless it is there just so."""
        target = self.folder / path
        if target.is_file() and target.read_bytes() == body:
            return
        target.parent.mkdir(parents=True, exist_ok=True)
        passing = target.with_name(target.name + _PASSING)
        passing.write_bytes(body)
        os.chmod(passing, 0o644)
        os.replace(passing, target)
        self.wrote = True

    def _stylesheet(self) -> tuple[str, bytes]:
        """Its path in the site, which changes with its content, and the content."""
        style = (self._web / "styles" / "reader.css").read_bytes()
        return f"styles/reader-{hashlib.sha256(style).hexdigest()[:12]}.css", style


def _with_app(site: SiteList, app: AppFiles, now: datetime) -> SiteList:
    oldest = now - timedelta(days=APP_KEPT_DAYS)
    left = [each for each in site.left_apps if each.hash != app.hash and each.left >= oldest]
    if site.app and site.app != app.hash:
        left.append(LeftApp(hash=site.app, left=now))
    return msgspec.structs.replace(site, app=app.hash, left_apps=tuple(left))


def _kept_files(app: AppFiles, carry: bytes, manifest: bytes) -> KeptFiles:
    def files() -> Iterator[KeptFile]:
        yield _kept("carry.html", carry)
        yield _kept("manifest.webmanifest", manifest)
        for path in app.kept:
            yield _kept(f"app/{app.hash}/{path}", app.files[path])

    return KeptFiles(app=app.hash, files=tuple(files()))


def _kept(url: str, body: bytes) -> KeptFile:
    return KeptFile(url=url, hash=hashlib.sha256(body).hexdigest(), bytes=len(body))
