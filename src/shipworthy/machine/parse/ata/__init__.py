"""ATA drives: identity, device statistics, SMART."""
