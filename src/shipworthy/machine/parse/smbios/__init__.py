"""SMBIOS tables: the walk, every field, the facts, and what is wrong with a table."""
