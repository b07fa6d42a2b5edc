"""Plain types that every room knows: records, words, times, troubles. Imports no other room."""
