"""What the shell tells the browser to fetch before it is asked for: modules, with all that they import.

Without it a browser learns of each module only from the one that imports it, one round after another.
"""

from __future__ import annotations

import json
import posixpath
import re
from collections.abc import Mapping
from pathlib import Path

# The page's own script, then what it asks for: a first trip, the shell, the screen that the address names,
# and what reaches outside.
ENTRIES = {
    "opening": "/web/phone/opening.js",
    "first-trip": "/web/phone/trip-packages.js",
    "shell": "/web/phone/main.js",
    "aisle": "/web/aisle/aisle-screen.js",
    "register": "/web/register/register-screen.js",
    "trip": "/web/phone/trip-screen.js",
    "outside": "/web/phone/outside.js",
}
EVERYWHERE = ("opening", "first-trip", "shell")  # whichever screen it is
# `from 'x'` and `import 'x'` at the start of a line's statement; imports that wait are calls: `import(`.
_IMPORTED = re.compile(r"""(?:\bfrom|^import|;import)\s*["']([^"']+)["']""", re.MULTILINE)
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)


def first_modules(web: Path) -> dict[str, list[str]]:
    """By the names of ``ENTRIES``, the addresses of each and of all that it imports, importers first.

    What the opening, the first trip or the shell brings along is not told again."""
    path = web / "vendor" / "importmap.json"
    names: dict[str, str] = json.loads(path.read_text("utf-8"))["imports"] if path.is_file() else {}
    found: dict[str, list[str]] = {}
    here: set[str] = set()
    for name, entry in ENTRIES.items():
        found[name] = [address for address in _with_imports(web, entry, names) if address not in here]
        if name in EVERYWHERE:
            here.update(found[name])
    return found


def _with_imports(web: Path, entry: str, names: Mapping[str, str]) -> list[str]:
    found: dict[str, None] = {}
    asked = [entry]
    while asked:
        address = asked.pop(0)
        file = web / address.removeprefix("/web/")
        if address in found or not file.is_file():
            continue
        found[address] = None
        text = _COMMENT.sub("", file.read_text("utf-8"))
        asked += [_address_of(name, address, names) for name in _IMPORTED.findall(text)]
    return list(found)


def _address_of(name: str, importer: str, names: Mapping[str, str]) -> str:
    """Where an import leads: a path beside its importer, or a name of the import map (longest prefix)."""
    if name.startswith("."):
        return posixpath.normpath(posixpath.join(posixpath.dirname(importer), name))
    if name in names:
        return names[name]
    folders = sorted((each for each in names if each.endswith("/") and name.startswith(each)), key=len)
    return names[folders[-1]] + name.removeprefix(folders[-1]) if folders else name
