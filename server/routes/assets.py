"""The phone's page: its shell, its files, and the list of them that makes it work offline.

Files are served as they lie in ``web/``, each under its content's hash as ETag and always asked
for anew (``no-cache``): the service worker is the cache, and it goes by ``/precache.json``. Only
what the browser can use is served: known kinds of file, in the folders named here.
"""

from __future__ import annotations

import asyncio
import gzip
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from http import HTTPStatus
from pathlib import Path
from typing import Any

import msgspec
from jinja2 import Environment
from litestar import HttpMethod, Request, Response, route
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..access import is_local_name, is_secure
from ..errors import not_taken
from ..security import host_name

# The types that browsers insist on for modules, workers and streamed WebAssembly.
MIME = {
    ".js": "text/javascript",
    ".mjs": "text/javascript",
    ".wasm": "application/wasm",
    ".css": "text/css",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
}
NOT_SERVED = {"templates", "node_modules"}  # folders in web/ that are not for the browser
# What the phone needs with the radio off, beside the shell, the manifest and the icons.
CARRIED = ("aisle", "engine", "phone", "register", "styles", "vendor")
# The Desk's and the published pages'; already inside the shell.
LEFT_AT_HOME = {"styles/desk.css", "styles/reader.css", "styles/carry.css", "vendor/importmap.json"}
# Left out of what every phone fetches: most browsers read barcodes themselves, and charts are the Desk's.
ONLY_WHERE_NEEDED = ("vendor/zxing-wasm/", "vendor/chart.js/", "vendor/@kurkle/")
SHELL = "/"
FETCHED_SHELL = "/ fetched"  # no address of a page
MANIFEST = "/manifest.webmanifest"
PACK = "/precache.pack"
# Bytes of the largest file in the pack: those above are few, and the page has fetched them itself.
MOST_IN_PACK = 64_000
SERVICE_WORKER = "/sw.js"


class File(msgspec.Struct, frozen=True, kw_only=True):
    """One file as it goes out. ``digest``: SHA-256 (hex); ``packed``: gzip, where that is smaller."""

    body: bytes
    digest: str
    mime: str
    packed: bytes | None


class Carried(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the precache list: fetch ``url``, expect ``bytes`` bytes of this SHA-256 (hex)."""

    url: str
    hash: str
    bytes: int


class Precache(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the phone needs offline; ``version`` changes when any of it does."""

    version: str
    files: tuple[Carried, ...]


class Shelf:
    """The files of ``web/`` by address, read when first asked for and again when they change on disk.

    ``shell``: the page as phones keep it; ``fetched_shell``: as it comes over the network."""

    def __init__(self, web: Path, shell: bytes, fetched_shell: bytes = b"") -> None:
        self._web = web.resolve()
        self._shells = {
            address: as_file(page, "text/html")
            for address, page in ((SHELL, shell), (FETCHED_SHELL, fetched_shell))
        }
        self._read: dict[Path, tuple[tuple[int, int], File]] = {}
        self._packed: tuple[str, File] | None = None

    def file(self, address: str) -> File | None:
        """What lies at an address such as ``/web/engine/money.js``; None where a browser finds nothing."""
        if address in self._shells:
            return self._shells[address]
        path = self._path_of(address)
        if path is None:
            return None
        return self._read_file(path)

    def precache(self) -> Precache:
        """Every file of the phone, by address."""
        files: list[Carried] = []
        for address in sorted(self._carried()):
            file = self.file(address)
            if file is not None:
                files.append(Carried(url=address, hash=file.digest, bytes=len(file.body)))
        whole = hashlib.sha256(msgspec.json.encode(files)).hexdigest()
        return Precache(version=whole[:16], files=tuple(files))

    def pack(self) -> File:
        """The small files of the precache list in one: a line of JSON, ``[{url, type, bytes}]``, then the
        bytes of each. A phone that has none of them yet asks once and not two hundred times."""
        wanted = self.precache()
        if self._packed is None or self._packed[0] != wanted.version:
            listed: list[dict[str, str | int]] = []
            bodies: list[bytes] = []
            for each in wanted.files:
                file = self.file(each.url)
                if file is not None and len(file.body) <= MOST_IN_PACK:
                    # Of texts every answer says their encoding.
                    kind = f"{file.mime}; charset=utf-8" if file.mime.startswith("text/") else file.mime
                    listed.append({"url": each.url, "type": kind, "bytes": len(file.body)})
                    bodies.append(file.body)
            whole = b"\n".join((msgspec.json.encode(listed), b"".join(bodies)))
            self._packed = (wanted.version, as_file(whole, "application/octet-stream"))
        return self._packed[1]

    def _carried(self) -> Iterator[str]:
        yield SHELL
        yield MANIFEST
        for folder in CARRIED:
            for path in self._files_in(folder):
                if path not in LEFT_AT_HOME and not path.startswith(ONLY_WHERE_NEEDED):
                    yield f"/web/{path}"
        for path in self._files_in("icons"):
            yield f"/{path}"

    def _files_in(self, folder: str) -> Iterator[str]:
        """Paths within ``web/``, with slashes, of the files in a folder that a browser can use."""
        for path in sorted((self._web / folder).rglob("*")):
            if path.suffix in MIME and path.is_file():
                yield path.relative_to(self._web).as_posix()

    def _path_of(self, address: str) -> Path | None:
        if address == MANIFEST:
            parts = ["manifest.webmanifest"]
        elif address == SERVICE_WORKER:
            parts = ["sw", "sw.js"]
        else:
            parts = [part for part in address.removeprefix("/web").split("/") if part]
        if not parts or parts[0] in NOT_SERVED or any(part.startswith(".") or "\\" in part for part in parts):
            return None
        path = self._web.joinpath(*parts)
        try:
            # A link that leads out of web/ is not followed.
            inside = path.is_file() and path.resolve().is_relative_to(self._web)
        except (OSError, ValueError):
            return None  # no name that a file could have
        return path if inside and path.suffix in MIME else None

    def _read_file(self, path: Path) -> File:
        state = path.stat()
        mark = (state.st_mtime_ns, state.st_size)
        kept = self._read.get(path)
        if kept is None or kept[0] != mark:
            kept = (mark, as_file(path.read_bytes(), MIME[path.suffix]))
            self._read[path] = kept
        return kept[1]


def import_map(web: Path) -> str:
    """The import map as it stands in the shell: one line, and no "<" that could end the script."""
    path = web / "vendor" / "importmap.json"
    found: object = json.loads(path.read_text("utf-8")) if path.is_file() else {"imports": {}}
    return json.dumps(found, separators=(",", ":")).replace("<", "\\u003c")


def shell(
    pages: Environment, import_map_text: str, modules: Mapping[str, Sequence[str]], *, fetched: bool = False
) -> bytes:
    """The phone's one page, as HTML in UTF-8. ``modules``: addresses to fetch, as in ``preloads.py``.

    ``fetched``: the shell's modules are asked for with the page, as each takes the way to the server and
    back; where they lie on the phone they come after the first lines."""
    page = pages.get_template("phone.html")
    return page.render(import_map=import_map_text, modules=modules, fetched=fetched).encode()


# What may be read may be asked about (RFC 9110, section 9.3.2); the server of the socket sends no body then.
_READ = (HttpMethod.GET, HttpMethod.HEAD)
_PUBLIC = {"packed_here": True, "exclude_from_csrf": True, "exclude_from_auth": True}


@route("/", http_method=_READ, opt={"packed_here": True, "exclude_from_csrf": True})
async def shell_page(request: Request[Any, Any, Any], files: NamedDependency[Shelf]) -> Response[Any]:
    """The phone's page. A person whose device is not paired is led to where it can be.

    Only where the browser would have shown its cookie: not when a link elsewhere led here."""
    person = request.headers.get("sec-fetch-mode") == "navigate"
    address = FETCHED_SHELL if person else SHELL
    if person and request.user is None and request.headers.get("sec-fetch-site") in ("none", "same-origin"):
        return Redirect("/pair", status_code=HTTP_303_SEE_OTHER, headers={"Cache-Control": "no-store"})
    answer: Response[Any] = await asyncio.to_thread(_serve, request, files, address)
    answer.headers["Vary"] = "Accept-Encoding, Sec-Fetch-Mode"
    return answer


@route([SERVICE_WORKER, MANIFEST], http_method=_READ, opt=_PUBLIC)
async def installed_file(
    request: Request[Any, Any, Any], files: NamedDependency[Shelf]
) -> Response[bytes | None]:
    """The service worker (whose scope is the whole site) and the manifest: what makes a page installable.

    Over plain http beyond localhost browsers keep no page, so there is nothing to install."""
    if not (is_secure(request) or is_local_name(host_name(request.headers.get("host", "")))):
        raise not_taken(
            "address",
            f"http://{request.headers.get('host', '')}",
            "A browser keeps a page for use without a network only from a secure address, and plain http "
            "beyond localhost is none. Start the server with --lan, or put a proxy with a certificate "
            "before it.",
            status=HTTPStatus.FORBIDDEN,
        )
    return await asyncio.to_thread(_serve, request, files, request.url.path)


@route("/icons/{path:path}", http_method=_READ, opt=_PUBLIC)
async def icon(
    request: Request[Any, Any, Any], files: NamedDependency[Shelf], path: FromPath[str]
) -> Response[bytes | None]:
    """An icon of the manifest."""
    return await asyncio.to_thread(_serve, request, files, f"/icons{path}")


@route("/web/{path:path}", http_method=_READ, opt=_PUBLIC)
async def web_file(
    request: Request[Any, Any, Any], files: NamedDependency[Shelf], path: FromPath[str]
) -> Response[bytes | None]:
    """A module, style sheet or library."""
    return await asyncio.to_thread(_serve, request, files, f"/web{path}")


@route("/precache.json", http_method=_READ, opt={"exclude_from_csrf": True, "exclude_from_auth": True})
async def precache(files: NamedDependency[Shelf]) -> Response[Precache]:
    """What the service worker fetches at install: ``{version, files: [{url, hash, bytes}]}``."""
    return Response(await asyncio.to_thread(files.precache), headers={"Cache-Control": "no-cache"})


@route(PACK, http_method=_READ, opt=_PUBLIC)
async def precache_pack(
    request: Request[Any, Any, Any], files: NamedDependency[Shelf]
) -> Response[bytes | None]:
    """The small files of the precache list, in one answer: see ``Shelf.pack``."""
    return await asyncio.to_thread(lambda: _answer(request, files.pack(), PACK))


# Reading and packing a file blocks, so it happens in a thread; from then on it is at hand.
def _serve(request: Request[Any, Any, Any], files: Shelf, address: str) -> Response[bytes | None]:
    file = files.file(address)
    if file is None:
        raise not_taken(
            "address",
            address,
            "There is no such file. The phone's page is at /.",
            status=HTTPStatus.NOT_FOUND,
        )
    return _answer(request, file, address)


def _answer(request: Request[Any, Any, Any], file: File, address: str) -> Response[bytes | None]:
    # Weak: the same content goes out packed and plain.
    headers = {"ETag": f'W/"{file.digest}"', "Cache-Control": "no-cache", "Vary": "Accept-Encoding"}
    if address == SERVICE_WORKER:
        headers["Service-Worker-Allowed"] = "/"
    if f'"{file.digest}"' in request.headers.get("if-none-match", ""):
        return Response(None, status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
    body = file.body
    if file.packed is not None and "gzip" in request.headers.get("accept-encoding", ""):
        body = file.packed
        headers["Content-Encoding"] = "gzip"
    return Response(body, media_type=file.mime, headers=headers)


def as_file(body: bytes, mime: str) -> File:
    """The bytes as a file that goes out."""
    # mtime 0: equal content gives equal bytes.
    packed = gzip.compress(body, mtime=0)
    return File(
        body=body,
        digest=hashlib.sha256(body).hexdigest(),
        mime=mime,
        packed=packed if len(packed) < len(body) else None,
    )
