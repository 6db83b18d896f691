"""Tables: rows of a spreadsheet or of JSON, read as records of any kind, and records written as rows.

A table is UTF-8 text by RFC 4180 with one heading row; what its columns are called and how a value is
written follows from the record's own type. Reading order: ``delimited.py`` (bytes to rows of text),
``columns.py`` (a type's columns, their words and synonyms), ``cells.py`` (one value as text and back),
``records.py`` (a row to a record and back), ``lists.py`` (JSON instead of rows). Pure: no file, no clock,
no store; it does not know which kinds of records there are.
"""
