"""The OpenAPI document's request bodies: the routes read bytes themselves, so they say here what they take.

At ``/api/openapi/openapi.json``. The schemas are those by which the bodies are decoded.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import msgspec
from litestar import Litestar
from litestar.openapi import OpenAPIConfig
from litestar.openapi.plugins import JsonRenderPlugin
from litestar.openapi.spec import BaseSchemaObject, Operation

_NAMED = "#/components/schemas/taken_{name}"


@dataclass
class Written(BaseSchemaObject):
    """A part of the document that is JSON already."""

    document: dict[str, Any]

    def to_schema(self) -> dict[str, Any]:
        """The part as it stands."""
        return self.document


def takes(name: str) -> type[Operation]:
    """An operation whose body is the JSON of the struct ``name`` given to ``describe``."""

    class Taking(Operation):
        def to_schema(self) -> dict[str, Any]:
            body = {"application/json": {"schema": {"$ref": _NAMED.format(name=name)}}}
            return super().to_schema() | {"requestBody": {"required": True, "content": body}}

    return Taking


def openapi_config() -> OpenAPIConfig:
    """The document alone: the framework's own pages for it would fetch from third parties."""
    return OpenAPIConfig(
        title="Counterfoil", version="1", path="/api/openapi", render_plugins=[JsonRenderPlugin()]
    )


def describe(app: Litestar, *bodies: type[msgspec.Struct]) -> Litestar:
    """Adds the structs that bodies are decoded as to the document of ``app``."""
    _, schemas = msgspec.json.schema_components(bodies, ref_template=_NAMED)
    described: Any = app.openapi_schema.components.schemas
    for name, schema in schemas.items():
        described[_NAMED.rpartition("/")[2].format(name=name)] = Written(schema)
    return app
