"""Orders: their files, what their texts say must be true, and drafts from what is fitted."""
