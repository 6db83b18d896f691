"""Pages of a trip for readers: static files for any host, with the offers and without the household.

Reading order: ``choices.py`` (what the planner decides), ``public_trip.py`` (what is left of her trip),
``steps.py``, ``checkouts.py`` and ``articles.py`` (each deal as a planner writes it down),
``structured_data.py`` (the same for programs), ``app_files.py`` (what a reader's phone runs),
``site_list.py`` (what a folder holds), ``pages.py`` (HTML and the feed), ``folder.py`` (its files),
``editions.py`` (what a page was made of, and a folder made again of that), ``site.py`` (``publish``,
``withdraw``), ``archive.py`` (the folder as one file).

Only ``app_files.py``, ``site_list.py``, ``folder.py``, ``editions.py`` and ``archive.py`` touch files;
nothing here reads a clock. May import: ``engine/``, ``intake/bad_input.py``.
"""
