"""The attempt's folder: open it, add to it, seal and sign it, check it. Knows no content (ADR 0012)."""
