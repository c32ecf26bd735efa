"""Lets tests in this folder import what tests share, from the root of the checkout."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[3]))
