"""The handover pack: a page and a print of a sealed record, and what they were made from. Never judges."""
