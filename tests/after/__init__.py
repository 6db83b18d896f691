"""After the trip: receipts against the plan, claims, balances, reports, the calendar.

Reading order: ``month.py`` (a made-up household's November, worked by hand), then the test of the same
name as each module under ``server/after/``.
"""
