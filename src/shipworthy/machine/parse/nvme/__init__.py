"""NVMe drives: Identify and the health log."""
