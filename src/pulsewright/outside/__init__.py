"""Comparison with values from outside: what `pulsewright verify` runs and shows."""
