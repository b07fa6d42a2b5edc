"""Memory modules by their SPD, a generation at a time."""
