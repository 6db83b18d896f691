"""Importing this makes a process ready to be forked into servers (``tests/served.py``): whatever each of them
would import and work out anew is there.

What a server makes ready while nobody asks (``counterfoil.warming``) it leaves: most are gone before anybody
would. ``tests/server/test_warming.py`` has a server that does it.
"""

from __future__ import annotations

import gc
import importlib
import math
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any, cast

import pytest
from jinja2 import TemplateError

from counterfoil import warming
from counterfoil.web import create_app
from tests.remembered import remember_what_is_the_same


def _make_ready() -> None:
    for module in ("cli.serving", "engine.planner"):  # the second brings the solver
        importlib.import_module(f"counterfoil.{module}")
    remember_what_is_the_same(pytest.MonkeyPatch())
    warming.WHILE_SECONDS = math.inf
    with tempfile.TemporaryDirectory() as folder:
        app = cast("Any", create_app(Path(folder)))  # what is asked of it has no public types
        pages = app.template_engine.engine
        for name in pages.list_templates(extensions=["html"]):
            with suppress(TemplateError):  # pages for readers have filters of their own
                pages.get_template(name)
        app.dependencies["files"].dependency().pack()
    gc.freeze()


_make_ready()
