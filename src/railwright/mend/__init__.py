"""Mending: what is wrong with a built supply, from what was read on it."""
