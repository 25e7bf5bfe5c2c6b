"""Measuring a built supply: guided bring-up, readings against what was predicted."""
