"""Sizing that several architectures share: each file one kind of choice, from limits."""
