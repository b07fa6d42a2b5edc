"""Network interfaces and what they can do."""
