"""Benches: how fast and how sure, printed as tables and never asserted.

Each is a program that stops by itself: ``python -m tests.bench.plan_bench``. Load stays on
loopback. Figures are of the machine that is named above the table.
"""
