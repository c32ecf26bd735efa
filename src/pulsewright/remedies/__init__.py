"""What to try next, and what not to."""
