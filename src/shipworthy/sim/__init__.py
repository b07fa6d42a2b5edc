"""A pretend unit: a folder with a machine's files, and a feed that moves its sensors. Invented throughout.

Only the demo and tests enter here; no room asks whether a machine is a pretend one.
"""

from pathlib import Path

ORDER_FILE = Path(__file__).parent / "scenario" / "order-kd-0412.toml"
ANSWERS_FILE = Path(__file__).parent / "scenario" / "answers-kd-0412.toml"
