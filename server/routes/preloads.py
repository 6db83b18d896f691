"""What the shell asks the browser to fetch at once: the modules that the first screen imports.

Without it a browser learns of each module only from the one that imports it, one round after another.
"""

from __future__ import annotations

import json
import posixpath
import re
from pathlib import Path

# The page's own script, and the screen that it opens with.
FIRST = ("/web/phone/main.js", "/web/aisle/aisle-screen.js")
# `from 'x'` and `import 'x'` at the start of a line's statement; imports that wait are calls: `import(`.
_IMPORTED = re.compile(r"""(?:\bfrom|^import|;import)\s*["']([^"']+)["']""", re.MULTILINE)
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)


def first_modules(web: Path) -> list[str]:
    """The addresses of ``FIRST`` and of all that they import, each once, importers before imported."""
    path = web / "vendor" / "importmap.json"
    names: dict[str, str] = json.loads(path.read_text("utf-8"))["imports"] if path.is_file() else {}
    found: dict[str, None] = {}
    asked = list(FIRST)
    while asked:
        address = asked.pop(0)
        file = web / address.removeprefix("/web/")
        if address in found or not file.is_file():
            continue
        found[address] = None
        text = _COMMENT.sub("", file.read_text("utf-8"))
        asked += [_address_of(name, address, names) for name in _IMPORTED.findall(text)]
    return list(found)


def _address_of(name: str, importer: str, names: dict[str, str]) -> str:
    """Where an import leads: a path beside its importer, or a name of the import map (longest prefix)."""
    if name.startswith("."):
        return posixpath.normpath(posixpath.join(posixpath.dirname(importer), name))
    if name in names:
        return names[name]
    folders = sorted((each for each in names if each.endswith("/") and name.startswith(each)), key=len)
    return names[folders[-1]] + name.removeprefix(folders[-1]) if folders else name
