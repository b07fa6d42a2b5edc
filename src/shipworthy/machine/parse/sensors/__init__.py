"""Sensors: chips, channels, limits by what they mean, and values that cannot be so."""
