"""An answer that is reckoned once for facts that do not change.

Facts are frozen: a trip that heard something more is another ``Bought``, a note more makes other ``Books``.
So an answer stays with the facts that it was reckoned from, until they are let go. Only the last answer of
each function is kept: pages ask for one day, over and over.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

F = TypeVar("F")
P = ParamSpec("P")
A = TypeVar("A")


def once(reckon: Callable[Concatenate[F, P], A]) -> Callable[Concatenate[F, P], A]:
    """``reckon`` with its last answer kept on its first argument, a struct with ``dict=True``; the other
    arguments are compared and must be positional. The answer is shared: nobody may change it."""

    name = f"{reckon.__module__}.{reckon.__qualname__}"

    @wraps(reckon)
    def kept(facts: F, *rest: P.args, **named: P.kwargs) -> A:
        answers: dict[str, Any] = facts.__dict__
        last = answers.get(name)
        if last is None or last[0] != rest or named:
            last = answers[name] = (rest, reckon(facts, *rest, **named))
        return last[1]

    return kept
