"""Reports of lspci."""
