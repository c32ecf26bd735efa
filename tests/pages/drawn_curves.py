"""What stands in a chart of the screen, and what `predict --json` says of the same machine."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner

LINE = """([tone, measured]) => { const plot = document.querySelector(".plot");
  const want = getComputedStyle(document.documentElement).getPropertyValue("--pw-" + tone).trim();
  const t = plot.data.find(t => t.line && t.line.color === want && (t.line.width < 3) === measured
                                && t.line.width > 0 && t.yaxis !== "y2");
  return t ? [t.x, t.y] : null; }"""


def curve_on_screen(page: Any, tone: str, *, measured: bool = False) -> tuple[list[float], list[float]]:
    """Speeds and torque of the line of a colour, as the chart holds them: the thick one, or the thin measured one."""
    found = page.evaluate(LINE, [tone, measured])
    assert found, f"no {'thin' if measured else 'thick'} {tone} line"
    return found[0], found[1]


def predicted(sheet: Path, speeds: list[float], *changes: str) -> list[float]:
    """What `predict --json` says."""
    from pulsewright.cli.predict import command

    rpm = ",".join(f"{s:g}" for s in speeds)
    more = [part for change in changes for part in ("--set", change)]
    result = CliRunner().invoke(command, [str(sheet), "--rpm", rpm, "--level", "show", "--quiet", "--json", *more])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)["torque_nm"]


def wait_for_full_curve(page: Any) -> None:
    """Until the curve in full stands on the screen."""
    page.wait_for_selector("[data-change][data-level=show]")


def slide(page: Any, dial: str, to: float) -> None:
    """Drag a slider as a hand does: several values on the way, then let go."""
    page.locator("[data-change]").evaluate("box => box.removeAttribute('data-level')")
    page.evaluate(
        """([dial, to]) => { const input = document.querySelector(`[data-name="${dial}"] input`);
             const from = Number(input.value);
             for (const part of [0.3, 0.7, 1]) { input.value = from + part * (to - from);
               input.dispatchEvent(new Event("input", { bubbles: true })); } }""",
        [dial, to],
    )
    wait_for_full_curve(page)
