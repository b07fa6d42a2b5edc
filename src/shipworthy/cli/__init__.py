"""The command line: one of two doors onto `jobs`. Holds no logic."""
