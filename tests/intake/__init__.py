"""How offers come in: coupon barcodes, product numbers, photos and shorthand.

Reading order: ``test_coupon_code.py`` and ``test_product_code.py`` (published strings), ``test_symbols.py``
(symbols drawn and read again), ``shorthand_cases.py`` (the grammar as a table) with ``test_shorthand.py``.
"""
