"""The pages agree with the tool: commands and formats are described, links lead somewhere."""

import re
import tomllib
from pathlib import Path

import pytest

from pulsewright.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = [*sorted(ROOT.glob("*.md")), *sorted(DOCS.rglob("*.md"))]
LINK = re.compile(r"\]\((?!https?:|#|mailto:)([^)#\s]+)")
TOML_BLOCK = re.compile(r"^```toml\n(.*?)^```", re.DOTALL | re.MULTILINE)
FORMAT = re.compile(r'"(pulsewright [a-z ]+ \d+)"')


def test_every_command_has_its_section_and_no_other():
    text = (DOCS / "reference" / "commands.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"^## (\S+)$", text, re.MULTILINE)) == sorted(COMMANDS)


def test_every_format_is_listed():
    text = (DOCS / "reference" / "exit-codes-and-json.md").read_text(encoding="utf-8")
    sources = (ROOT / "src").rglob("*.py")
    used = {name for path in sources for name in FORMAT.findall(path.read_text(encoding="utf-8"))}
    assert "pulsewright error 1" in used
    assert not {name for name in used if f"`{name}`" not in text}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path):
    links = LINK.findall(page.read_text(encoding="utf-8"))
    assert not [link for link in links if not (page.parent / link).exists()]


def test_every_page_is_in_the_table_of_contents():
    listed = set(
        re.findall(r"^[a-z-]+/[a-z-]+$", (DOCS / "index.md").read_text(encoding="utf-8"), re.MULTILINE)
    )
    there = {
        str(page.relative_to(DOCS).with_suffix("")) for page in DOCS.rglob("*.md") if page.parent != DOCS
    }
    assert listed == {name for name in there if not name.startswith("_build")}


@pytest.mark.parametrize(
    ("page", "text"),
    [
        (str(page.relative_to(ROOT)), text)
        for page in PAGES
        for text in TOML_BLOCK.findall(page.read_text(encoding="utf-8"))
    ],
)
def test_examples_of_toml_can_be_read(page: str, text: str):
    assert tomllib.loads(text), page
