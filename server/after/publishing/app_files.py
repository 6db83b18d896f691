"""What a reader's phone runs: the screens, the engine and the solver, found by following the imports.

The files keep their places among each other (``reader/main.js`` imports ``../engine/money.js`` here as
there), and lie in a folder named by the hash of all of them. So a page that is open while a newer site is
uploaded goes on with the files that it began with, and a host may let every one of them be cached for ever.
"""

from __future__ import annotations

import hashlib
import json
import posixpath
import re
from pathlib import Path

import msgspec

ENTRY = "reader/main.js"
FIRST_SCREEN = "reader/mine-screen.js"
STYLES = ("styles/phone.css", "styles/carry.css")
# Large, and only a browser without a barcode reader of its own asks for it.
_LATER = "vendor/zxing-wasm/"
_VENDOR = "/web/vendor/"

_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_BESIDE = re.compile(r"""["'](\.{1,2}/[\w@./-]+\.(?:m?js|wasm))["']""")
_BY_NAME = re.compile(r"""(?:\bfrom|\bimport)\s*\(?\s*["']([@\w][^"']*)["']""")
_SIBLING = re.compile(r"""["']([\w-]+\.wasm)["']""")
# As `from 'x'` and `import 'x'` at the start of a statement; imports that wait are calls: `import(`.
_AT_ONCE = re.compile(r"""(?:\bfrom|^import|;import)\s*["']([^"']+)["']""", re.MULTILINE)


class AppFiles(msgspec.Struct, frozen=True, kw_only=True):
    """``files``: path below ``app/<hash>/`` -> content. ``kept``: those that the phone keeps at once.
    ``first``: those that the first screen needs, importers before imported. ``imports``: name -> path."""

    hash: str
    files: dict[str, bytes]
    kept: tuple[str, ...]
    first: tuple[str, ...]
    imports: dict[str, str]

    def import_map(self) -> str:
        """The import map of a page at the site's root: one line, and no "<" that could end the script."""
        found = {name: f"./app/{self.hash}/{path}" for name, path in self.imports.items()}
        return json.dumps({"imports": found}, separators=(",", ":")).replace("<", "\\u003c")


def app_files(web: Path, *others: bytes) -> AppFiles:
    """The reader's app out of ``web/``. ``others``: what belongs to the same version but lies elsewhere."""
    names = _import_names(web)
    paths = sorted(_reached(web, names))
    licences = {f"{_package(path)}/LICENSE" for path in paths if path.startswith("vendor/")}
    files = {
        path: (web / path).read_bytes()
        for path in (*paths, *STYLES, *sorted(licences))
        if (web / path).is_file()
    }
    digest = hashlib.sha256()
    for path, body in sorted(files.items()):
        digest.update(f"{path} {hashlib.sha256(body).hexdigest()}\n".encode())
    for body in others:
        digest.update(hashlib.sha256(body).digest())
    used = {name: path for name, path in names.items() if path in files and not name.endswith("/")}
    folders = {name: path for name, path in names.items() if name.endswith("/")}
    used |= {name: path for name, path in folders.items() if any(each.startswith(path) for each in files)}
    return AppFiles(
        hash=digest.hexdigest()[:16],
        files=files,
        kept=tuple(
            path for path in sorted(files) if not path.startswith(_LATER) and not path.endswith("LICENSE")
        ),
        first=tuple(_first(web, names)),
        imports=used,
    )


def _package(path: str) -> str:
    """``vendor/lit`` of ``vendor/lit/index.js``; a scoped package has one folder more."""
    parts = path.split("/")
    return "/".join(parts[: 3 if parts[1].startswith("@") else 2])


def _import_names(web: Path) -> dict[str, str]:
    """Bare names, and packages' folders, with their paths below ``web/``."""
    path = web / "vendor" / "importmap.json"
    found: dict[str, str] = json.loads(path.read_text("utf-8"))["imports"]
    return {name: f"vendor/{address.removeprefix(_VENDOR)}" for name, address in found.items()}


def _reached(web: Path, names: dict[str, str]) -> set[str]:
    """Every script and WebAssembly file that ``ENTRY`` names, at once or later, itself or by others."""
    found: set[str] = set()
    asked = [ENTRY]
    while asked:
        path = asked.pop()
        if path in found or not (web / path).is_file():
            continue
        found.add(path)
        if path.endswith(".wasm"):
            continue
        text = _COMMENT.sub("", (web / path).read_text("utf-8"))
        here = posixpath.dirname(path)
        beside = (*_BESIDE.findall(text), *_SIBLING.findall(text))
        asked += [posixpath.normpath(posixpath.join(here, each)) for each in beside]
        asked += [named for each in _BY_NAME.findall(text) if (named := _named(each, names))]
    return found


def _first(web: Path, names: dict[str, str]) -> list[str]:
    found: dict[str, None] = {}
    asked = [ENTRY, FIRST_SCREEN]
    while asked:
        path = asked.pop(0)
        if path in found or not (web / path).is_file():
            continue
        found[path] = None
        text = _COMMENT.sub("", (web / path).read_text("utf-8"))
        for each in _AT_ONCE.findall(text):
            if each.startswith("."):
                asked.append(posixpath.normpath(posixpath.join(posixpath.dirname(path), each)))
            elif named := _named(each, names):
                asked.append(named)
    return list(found)


def _named(name: str, names: dict[str, str]) -> str:
    """The path that a bare name stands for (longest prefix); "" where the import map has none."""
    if name in names:
        return names[name]
    folders = sorted((each for each in names if each.endswith("/") and name.startswith(each)), key=len)
    return names[folders[-1]] + name.removeprefix(folders[-1]) if folders else ""
