"""Reports of NVIDIA's tool."""
