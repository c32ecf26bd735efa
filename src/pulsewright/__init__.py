"""pulsewright: tell a fuel hole from a wave hole in the torque curve of a carburetted engine."""

__version__ = "0.1.0"
__all__ = ["__version__"]
