"""Reports of smartctl, as JSON and as text."""
