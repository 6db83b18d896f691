"""Finds what travels with the package: the browser's files, the demo household, the version.

In an installed wheel they lie inside the package; in a checkout they lie beside ``server/``.
"""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

_package = Path(__file__).resolve().parent


def web_folder() -> Path:
    """What the browser gets: modules, templates, ``vendor/`` (fetched when the project is installed)."""
    return _find("web")


def demo_folder() -> Path:
    """The demo household: an invented town, its stores and one week's trip."""
    return _find("demo")


def release() -> str:
    """The version from ``pyproject.toml``, as it was installed."""
    try:
        return version("counterfoil")
    except PackageNotFoundError:
        return "not installed: run from a checkout"


def _find(name: str) -> Path:
    installed = _package / name
    return installed if installed.is_dir() else _package.parent / name
