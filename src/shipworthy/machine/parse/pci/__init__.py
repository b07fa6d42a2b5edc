"""PCI: registers, links to the root, errors, and what the kernel shows of a function."""
