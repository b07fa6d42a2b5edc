"""Orders as shops have them, brought into the one order schema (ADR 0030).

A source (pasted text, a table, nested JSON) becomes rows; a row becomes an order line, or is told why not.
Nothing in a source goes by in silence.
"""
