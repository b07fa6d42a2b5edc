"""A shop's own part list: read, indexed, looked up (ADR 0031). It is optional; everything works with none."""
