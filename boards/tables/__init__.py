"""Everything that the shop entered, as tables: what is in each, and how it is written.

A model that comes along later is written out by itself, under the names and the help of its fields; `TABLES` in
`boards.tables.registry` is where it gets a better name, better words, or is left out.
"""
