"""The OpenAPI document is a promise: whatever is sent by it or past it, no answer is a fault of ours.

Each operation is sent bodies and parameters made up from its own schema, sound and unsound ones.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.strategies import one_of
from schemathesis import GenerationMode

from counterfoil.web import create_app

from .conftest import Client, as_json, key_for, paired, small_trip

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "20"))  # of each operation
MODES = (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)  # by the schema, and past it
OPERATIONS = (
    ("get", "/"),
    ("get", "/sw.js"),
    ("get", "/manifest.webmanifest"),
    ("get", "/icons/{path}"),
    ("get", "/web/{path}"),
    ("get", "/precache.json"),
    ("get", "/precache.pack"),
    ("get", "/api/trips"),
    ("post", "/api/trips"),
    ("get", "/api/trips/{trip_id}"),
    ("get", "/api/schema/{name}"),
    ("get", "/api/due"),
    ("post", "/sync"),
    ("get", "/desk"),
    ("post", "/desk/trips"),
    ("post", "/desk/take-back"),
    ("get", "/desk/trips/{trip_id}"),
)


@pytest.fixture(scope="module")
def household(tmp_path_factory: pytest.TempPathFactory) -> tuple[Any, str]:
    """The interface of a household with the small trip, and a key to it."""
    data: Path = tmp_path_factory.mktemp("fuzzed")
    with paired(data) as home:
        home.post("/api/trips", json=as_json(small_trip()))
    app = create_app(data, allowed_hosts=["testserver"])
    return schemathesis.openapi.from_asgi("/api/openapi/openapi.json", app), key_for(data)


def test_every_operation_is_fuzzed(household: tuple[Any, str]) -> None:
    found = {(result.ok().method, result.ok().path) for result in household[0].get_all_operations()}
    # The same functions answer HEAD as GET.
    assert {(method, path) for method, path in found if method != "head"} == set(OPERATIONS)


@pytest.mark.parametrize(("method", "path"), OPERATIONS)
def test_nothing_that_can_be_sent_is_a_fault_of_ours(
    household: tuple[Any, str], method: str, path: str
) -> None:
    interface, key = household

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=[
            HealthCheck.too_slow,
            HealthCheck.filter_too_much,
            HealthCheck.large_base_example,
        ],
    )
    @given(case=one_of(*(interface[path][method].as_strategy(generation_mode=mode) for mode in MODES)))
    def send(case: Any) -> None:
        answer = case.call(headers={"Authorization": f"Bearer {key}"})
        assert answer.status_code < 500, answer.text
        if answer.status_code >= 400:
            assert set(answer.json()["error"]) == {"status", "title", "field", "value", "mend", "also"}

    send()


def test_the_document_says_what_bodies_are_taken(client: Client) -> None:
    document = client.get("/api/openapi/openapi.json").json()
    for path, name in (("/sync", "taken_Batch"), ("/api/trips", "taken_Trip")):
        body = document["paths"][path]["post"]["requestBody"]["content"]["application/json"]["schema"]
        assert body == {"$ref": f"#/components/schemas/{name}"}
        assert "properties" in document["components"]["schemas"][name]
