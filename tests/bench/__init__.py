"""The virtual bench: a QEMU PC whose parts the tests choose, read by the real thing."""
