"""The arithmetic: each step of the register by itself, what must always hold, and the twin.

``vectors.py`` reads ``tests/vectors``; ``made_up.py`` invents transactions from a seed. Each
vector and each invented transaction goes through both engines.
"""
