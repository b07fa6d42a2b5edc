"""The loads that come with the tool: one file and one entry point each."""
