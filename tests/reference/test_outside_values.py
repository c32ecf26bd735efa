"""Every comparison of `pulsewright verify`; the source stands in each check and in outside/data/README.md."""

import pytest

from pulsewright.outside.groups import GROUPS, checks_of


@pytest.mark.parametrize("group", GROUPS)
def test_group_agrees_with_values_from_outside(group: str):
    failed = [
        f"{c.what} ({c.source}): expected {c.expected:.8g}, got {c.got:.8g}, off by {c.error:.3g}, "
        f"allowed {c.tolerance:g} {c.kind}"
        for c in checks_of(group)
        if not c.passed
    ]
    assert not failed, "\n".join(failed)
