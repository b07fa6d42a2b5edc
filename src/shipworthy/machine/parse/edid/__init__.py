"""Displays by their EDID: base block, CTA-861, DisplayID; every timing, every fault."""
