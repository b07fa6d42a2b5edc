"""Orders as shops have them, brought into the one order schema (ADR 0030).

A source (pasted text, a table, nested JSON) becomes rows; a row becomes an order line, or is told why not.
Nothing in a source goes by in silence.

- A source: `importing` brings it in, `sources` finds its text, `head` its number, shop and day.
- Tables: `grids`, `workbooks` and `sheet_scan` open them, `columns` and `mapping` say what stands where,
  `tables` makes rows. Nested JSON: `nested`.
- Pasted text: `pasted` goes through it row by row, `page` knows what the rows above told. What is no part:
  `surroundings`, with `head_cells`, `order_numbers`, `dates`, `totals`, `talk`, `persons`, `phrases`. What
  belongs to a part above: `details`. What may sell nothing: `not_sold`.
- Within a row: `signs` and `labels`; how many (`quantities`, `counts`, `positions`, `maybe_counts`); what is
  left out (`money`, `private`, `inline_numbers`); what it is (`categories`, by its nouns in
  `category_nouns` and its signs in `category_words`).
- `rows` makes order lines of raw rows (`rawrow`).
"""
