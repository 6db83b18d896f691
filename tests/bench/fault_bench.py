"""The server killed at random moments of 300 syncs: what was lost (nothing), and how often it was close.

    python -m tests.bench.fault_bench [CUTS]

The tests in ``tests/faults`` make fewer; this one prints how many syncs were heard, and how many
events were committed whose phone was never told. It raises if anything is lost or doubled.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.bench.machine import machine, table
from tests.faults.power_cuts import cut_again_and_again


def main() -> None:
    cuts = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(machine())
    with tempfile.TemporaryDirectory() as folder:
        tally = cut_again_and_again(Path(folder) / "data", cuts)
    print(
        table(
            ("times killed", "syncs", "answers heard", "stored, not told", "events", "lost", "doubled"),
            [(tally.cuts, 2 * tally.cuts, tally.heard, tally.stored_unheard, tally.events, 0, 0)],
        )
    )


if __name__ == "__main__":
    main()
