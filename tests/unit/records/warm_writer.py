"""Imported once by the server of processes: does everything once, so that what is forked from it writes at once."""

import random
import tempfile
from pathlib import Path

from tests.unit.records.busy_writer import add_setup, edit, fit, report, upload

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

SHEET = (SESSION / "setup.toml").read_text(encoding="utf-8")

with tempfile.TemporaryDirectory() as folder, Store.open(folder) as store:
    for number, action in enumerate((edit, add_setup, upload, fit, report)):
        action(store, random.Random(1), lambda *_: None, SHEET, Path(folder), f"1-{number}")
