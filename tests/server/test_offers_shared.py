"""Texts shared by phones: taken in once each, kept until they are done with, read into the paste page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from .at_the_desk import Desk, at_the_desk, typed, words
from .conftest import paired

INBOX = "/desk/inbox/shared"
OATS_TEXT = {
    "id": "01943f00-0000-7001-8000-000000000001",
    "at": "2026-12-05T10:00:00.000Z",
    "title": "This week",
    "text": "rolled oats 2/$5 thru 12/12",
    "url": "https://example.org/week",
}

BROKEN: Sequence[tuple[Any, str]] = [
    (dict[str, Any](), "texts"),
    ({"texts": [dict[str, Any]()]}, "texts[0].id"),
    ({"texts": [{**OATS_TEXT, "id": ""}]}, "texts[0].id"),
    ({"texts": [OATS_TEXT, {**OATS_TEXT, "text": "x" * 100_001}]}, "texts[1].text"),
    ({"texts": [{**OATS_TEXT, "text": "a\0b"}]}, "texts[0].text"),
    ({"texts": [{**OATS_TEXT, "more": 1}]}, "texts[0].more"),
    ({"texts": [OATS_TEXT] * 51}, "texts"),
    (list[Any](), ""),
]


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with at_the_desk(tmp_path / "data") as desk:
        yield desk


def share(desk: Desk, *texts: dict[str, Any], status: int = 200) -> dict[str, Any]:
    answer = desk.client.post(INBOX, json={"texts": texts})
    assert answer.status_code == status, answer.text
    return answer.json()


def test_a_text_is_acknowledged_each_time_and_kept_once_as_it_came_first(desk: Desk) -> None:
    assert share(desk, OATS_TEXT) == {"kept": [OATS_TEXT["id"]]}
    assert share(desk, {**OATS_TEXT, "title": "Later"}) == {"kept": [OATS_TEXT["id"]]}
    page = desk.says("/desk/offers/shared")
    assert page.count("rolled oats 2/$5") == 1
    assert "This week" in page
    assert "Later" not in page
    assert "Shared from phones (1 waiting)" in desk.says("/desk/offers")


def test_a_phone_needs_no_form_and_a_stranger_gets_nothing(desk: Desk) -> None:
    desk.client.headers.pop("X-CSRFToken")
    share(desk, OATS_TEXT)
    answer = desk.client.post(INBOX, json={"texts": []}, headers={"Origin": "https://elsewhere.example"})
    assert answer.status_code == 403
    answer = desk.client.post(INBOX, json={"texts": []}, headers={"Sec-Fetch-Site": "cross-site"})
    assert answer.status_code == 403
    desk.client.headers.pop("Authorization")
    assert desk.client.post(INBOX, json={"texts": []}).status_code == 401


def test_a_phone_that_may_not_pair_others_may_share(tmp_path: Path) -> None:
    with paired(tmp_path / "data", "phone") as phone:
        assert phone.post(INBOX, json={"texts": [OATS_TEXT]}).status_code == 200


def test_read_it_opens_the_page_with_the_text_in_it_read_already(desk: Desk) -> None:
    share(desk, OATS_TEXT)
    page = desk.open(f"/desk/offers/paste?shared={OATS_TEXT['id']}")
    assert typed(page)["text"] == ["This week\nrolled oats 2/$5 thru 12/12"]
    assert "Sale: 2 for $5.00" in words(page)
    assert "No offer was found in these lines This week" in words(page)
    again = desk.send("/desk/offers/paste", {**typed(page), "do": "read"})
    assert "Done with it" in words(again), "the text is still known by its id"


def test_done_with_it_is_gone_from_the_list_and_may_be_pressed_twice(desk: Desk) -> None:
    share(desk, OATS_TEXT)
    address = f"/desk/offers/shared/{OATS_TEXT['id']}/done"
    for _ in range(2):
        assert "Nothing waits." in words(desk.send(address, {}))
    assert share(desk, OATS_TEXT) == {"kept": [OATS_TEXT["id"]]}
    assert "Nothing waits." in desk.says("/desk/offers/shared"), "what is done with does not come back"
    desk.send("/desk/offers/shared/unknown/done", {}, status=404)


def test_a_text_is_shown_as_it_is_and_never_as_marks(desk: Desk) -> None:
    share(desk, {**OATS_TEXT, "title": "<img src=x>", "text": "<script>x</script>", "url": "javascript:x"})
    page = desk.open("/desk/offers/shared")
    assert "<script>x" not in page
    assert "<img" not in page
    assert 'href="javascript' not in page


@pytest.mark.parametrize(("body", "field"), BROKEN)
def test_what_breaks_the_shape_is_refused_by_its_field(desk: Desk, body: Any, field: str) -> None:
    answer = desk.client.post(INBOX, json=body)
    assert answer.status_code == 400
    assert answer.json()["error"]["field"] == field
    assert "Nothing waits." in desk.says("/desk/offers/shared")


def test_half_of_a_pair_is_no_text(desk: Desk) -> None:
    answer = desk.client.post(INBOX, content=b'{"texts":[{"id":"a","text":"\\ud800"}]}')
    assert answer.status_code == 400


@pytest.fixture(scope="module")
def one_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    with at_the_desk(tmp_path_factory.mktemp("fuzz") / "data") as desk:
        yield desk


_NAMES = st.sampled_from(("texts", "id", "at", "title", "text", "url", "x"))
_LEAVES = st.one_of(st.none(), st.booleans(), st.integers(), st.text(max_size=20))
_JSON = st.recursive(
    _LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(("texts", "id", "at", "title", "text", "url", "x")), inner, max_size=4
        ),
    ),
    max_leaves=12,
)


@settings(max_examples=60, deadline=None)
@given(_JSON)
def test_nothing_that_a_phone_sends_is_a_fault_of_ours(one_desk: Desk, body: Any) -> None:
    answer = one_desk.client.post(INBOX, json=body)
    assert answer.status_code in (200, 400), answer.text
