"""How documents and offers come in: read, decoded, checked, or turned down with words that help.

Reading order: ``bad_input.py`` (the one typed error), ``decoding.py`` (a decoder's complaint in
plain words), ``documents.py`` (a trip or a transaction from a file or a request). Offers: ``drafts.py``
(what was read) and ``confirming.py`` (what becomes of it), ``shorthand/`` (free text), ``coupon_code.py``
with ``code_fields.py`` and ``coupon_words.py`` (a coupon's barcode), ``product_code.py``, ``symbols.py`` (a
photo's barcodes).
Nothing here writes anything. May import: ``engine/``.
"""
