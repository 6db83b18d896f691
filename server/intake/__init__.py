"""How documents come in: read, decoded, checked, or turned down with words that help.

Reading order: ``bad_input.py`` (the one typed error), ``decoding.py`` (a decoder's complaint in
plain words), ``documents.py`` (a trip or a transaction from a file or a request). Nothing here
writes anything. May import: ``engine/``.
"""
