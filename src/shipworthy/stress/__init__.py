"""Burn-in: a plan's loads run under a guard, every result is checked, and all of it becomes a run log.

This room measures and stops; it never judges. `engine.run_plan` is its door, `plans` its data.
"""
