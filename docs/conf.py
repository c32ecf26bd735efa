"""Settings of the manual: Markdown pages through MyST, the theme that comes with Sphinx."""

from pathlib import Path

VERSION_FILE = Path(__file__).parent.parent / "src" / "pulsewright" / "__init__.py"

project = "pulsewright"
author = "pulsewright contributors"
copyright = f"2026 {author}"
release = VERSION_FILE.read_text(encoding="utf-8").split('__version__ = "')[1].split('"')[0]

extensions = ["myst_parser"]
exclude_patterns = ["_build"]
myst_enable_extensions = ["deflist", "dollarmath"]
myst_heading_anchors = 3

html_theme = "alabaster"
html_theme_options = {"description": "Fuel hole or wave hole?", "page_width": "60rem"}
html_show_sourcelink = False
