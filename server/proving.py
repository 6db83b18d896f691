"""The proof of a plan in its own process: ``python -m counterfoil.proving`` reads a trip, writes its plan.

A proof may take the solver a minute. Apart from the server it holds nobody up, and it can be ended at
once when nobody waits for it any more.
"""

from __future__ import annotations

import contextlib
import os
import sys

import msgspec

from .engine.offers import Trip

NICER = 5  # than the server, which has people waiting


def main() -> None:
    """From a trip's JSON on the standard input to its plan's on the standard output."""
    with contextlib.suppress(AttributeError, OSError):  # where there is no niceness
        os.nice(NICER)
    trip = msgspec.json.decode(sys.stdin.buffer.read(), type=Trip)

    from .engine.planner import plan

    sys.stdout.buffer.write(msgspec.json.encode(plan(trip)))


if __name__ == "__main__":
    main()
