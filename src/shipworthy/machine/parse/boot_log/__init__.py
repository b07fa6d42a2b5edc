"""Kernel logs: parts, and errors of the hardware."""
