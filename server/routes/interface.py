"""The OpenAPI document's request bodies: the routes read bytes themselves, so they say here what they take.

At ``/api/openapi/openapi.json``. The schemas are those by which the bodies are decoded.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec
from litestar import Request
from litestar.openapi import OpenAPIConfig
from litestar.openapi.plugins import JsonRenderPlugin
from litestar.openapi.spec import Operation

_NAMED = "#/components/schemas/taken_{name}"


def takes(name: str) -> type[Operation]:
    """An operation whose body is the JSON of the struct ``name`` given to ``openapi_config``."""

    class Taking(Operation):
        def to_schema(self) -> dict[str, Any]:
            body = {"application/json": {"schema": {"$ref": _NAMED.format(name=name)}}}
            return super().to_schema() | {"requestBody": {"required": True, "content": body}}

    return Taking


class _WithBodies(JsonRenderPlugin):
    """The document with the structs that bodies are decoded as; written when it is asked for."""

    def __init__(self, bodies: Sequence[type[msgspec.Struct]]) -> None:
        super().__init__()
        self._bodies = bodies

    def render(self, request: Request[Any, Any, Any], openapi_schema: dict[str, Any]) -> bytes:
        _, schemas = msgspec.json.schema_components(self._bodies, ref_template=_NAMED)
        taken = {_NAMED.rpartition("/")[2].format(name=name): schema for name, schema in schemas.items()}
        components = openapi_schema["components"]
        whole = openapi_schema | {"components": components | {"schemas": components["schemas"] | taken}}
        return super().render(request, whole)  # pyright: ignore[reportUnknownMemberType]  # their own looseness


def openapi_config(*bodies: type[msgspec.Struct]) -> OpenAPIConfig:
    """The document alone, with the structs that bodies are decoded as: the framework's own pages for it
    would fetch from third parties."""
    return OpenAPIConfig(
        title="Counterfoil", version="1", path="/api/openapi", render_plugins=[_WithBodies(bodies)]
    )
