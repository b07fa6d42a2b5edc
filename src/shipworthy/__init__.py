"""shipworthy: turns an order and a machine into a proof.

The rooms of this package, and the direction in which they may import one another, are described in
docs/explanation/rooms.md and held by import-linter (see pyproject.toml).
"""

__version__ = "0.1.0"
