"""Reports of lshw."""
