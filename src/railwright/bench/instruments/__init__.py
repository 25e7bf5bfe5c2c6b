"""Instruments that speak SCPI, by the commands that the standards have."""
