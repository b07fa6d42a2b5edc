"""Processors: the kernel's lists, topology, caches, kinds of cores, CPUID dumps."""
