"""The server loses its power at random moments of syncs, and every event is there exactly once."""

from __future__ import annotations

from pathlib import Path

from tests.faults.power_cuts import cut_again_and_again

CUTS = 8  # tests/bench/fault_bench.py makes 300


def test_a_server_killed_at_random_moments_loses_nothing_and_doubles_nothing(tmp_path: Path) -> None:
    tally = cut_again_and_again(tmp_path / "data", CUTS)
    assert tally.cuts == CUTS
