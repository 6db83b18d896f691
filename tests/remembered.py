"""What hundreds of applications under test would work out anew, each the same: worked out once for a process.

They are made of the same handlers, pages and files. Reading the types of the handlers' arguments, what the
phone's page imports, and packing its files anew each time would be most of what a test of the server costs.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import pytest
from jinja2 import Environment
from litestar.utils.signature import ParsedSignature

from counterfoil import web
from counterfoil.routes import assets
from counterfoil.routes.preloads import first_modules


def remember_what_is_the_same(patched: pytest.MonkeyPatch) -> None:
    """From now on, applications made in this process share it."""
    read = ParsedSignature.from_fn
    known: dict[Callable[..., Any], ParsedSignature] = {}

    def read_once(fn: Callable[..., Any], signature_namespace: dict[str, Any]) -> ParsedSignature:
        if "<locals>" in fn.__qualname__:  # made for one application
            return read(fn, signature_namespace)
        if fn not in known:
            known[fn] = read(fn, signature_namespace)
        return known[fn]

    patched.setattr(ParsedSignature, "from_fn", read_once)
    patched.setattr(web, "first_modules", functools.cache(first_modules))
    compile_page = Environment.compile
    compiled: dict[object, Any] = {}

    def compile_once(
        pages: Environment, source: Any, name: Any = None, filename: Any = None, **more: Any
    ) -> Any:
        key = (source, name, filename, *sorted(pages.filters), *more.items())
        if key not in compiled:
            compiled[key] = compile_page(pages, source, name, filename, **more)
        return compiled[key]

    patched.setattr(Environment, "compile", compile_once)
    # By what is packed, so a file that a test changes is packed anew.
    patched.setattr(assets, "as_file", functools.cache(assets.as_file))
