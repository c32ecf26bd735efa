"""Cycles until periodic, sweeps, switches, results."""
