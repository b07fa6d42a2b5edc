"""USB: devices and their ports, descriptors, bridges to drives."""
