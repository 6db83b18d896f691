"""Asks the second opinion about many small trips and prints the counts; stops by itself.

    python -m tests.bench.independent_bench                      # tiny trips, seeds 0 to 9,999
    python -m tests.bench.independent_bench tiny 4000 6000       # a part, to go on or to share out
    python -m tests.bench.independent_bench stacked 0 1500 1     # to houses that take two coupons on an item,
                                                                 # with one process of CP-SAT instead of two
    python -m tests.bench.independent_bench crowded 0 1000       # the same trips where it takes one of each

Every hundred trips a line says how far it is. The answer is 0 where nothing better (and nothing that
breaks a rule) was found of a plan that was called proven. From the top of a checkout, with ``.dev`` on
``PYTHONPATH``.
"""

from __future__ import annotations

import platform
import sys
import time

SEEDS = range(10_000)


def main(arguments: list[str]) -> int:
    # Here and not above: the processes of CP-SAT load this file too, and must not load the planner.
    from tests.independent.comparing import compare
    from tests.independent.families import FAMILIES

    family = arguments[0] if arguments else "tiny"
    seeds = range(*(int(each) for each in arguments[1:3])) if arguments[1:] else SEEDS
    workers = int(arguments[3]) if arguments[3:] else 2
    started = time.monotonic()
    done = proven = optimal = missing = unsaid = 0
    differences: list[str] = []
    print(
        f"{family}, seeds {seeds.start} to {seeds.stop - 1} on {platform.processor() or platform.machine()}",
        flush=True,
    )
    for compared in compare(seeds, FAMILIES[family], workers=workers):
        done += 1
        proven += compared.best is not None
        optimal += compared.optimal
        missing += compared.planned[0] > 0
        difference = compared.difference()
        if difference is not None:
            differences.append(difference)
            unsaid += not compared.is_owned
            print(difference, flush=True)
        if done % 100 == 0:
            print(f"{done} trips, {len(differences)} differ, {time.monotonic() - started:.0f} s", flush=True)
    print(f"trips {done}")
    print(f"proven by CP-SAT {proven}")
    print(f"proven by the plan {optimal}")
    print(f"with units missing {missing}")
    print(f"differ {len(differences)}, of which the plan did not say that it may {unsaid}")
    print(f"seconds {time.monotonic() - started:.0f}")
    return 1 if unsaid or proven < done else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
