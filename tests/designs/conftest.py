"""Lets tests in this folder import the rig that stands beside them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
