"""Markers come from the folder that a test lives in, so that nobody has to write them."""

from pathlib import Path

import pytest

TESTS = Path(__file__).parent
FOLDER_MARKERS = {
    "unit": "unit",
    "reference": "reference",
    "pages": "page",
    "tidiness": "tidiness",
    "slow": "slow",
}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        folder = item.path.relative_to(TESTS).parts[0]
        if folder in FOLDER_MARKERS:
            item.add_marker(FOLDER_MARKERS[folder])
