"""The pages agree with the tool: commands and formats are described, links lead somewhere."""

import dataclasses
import re
import tomllib
from pathlib import Path

import pytest

from pulsewright.bench.keys import Table, Word
from pulsewright.bench.schema import SHEET
from pulsewright.bench.session_schema import SESSION
from pulsewright.bench.sheet import setup_from_text
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
    listed = set(re.findall(r"^[a-z-]+/[a-z-]+$", (DOCS / "index.md").read_text(encoding="utf-8"), re.MULTILINE))
    there = {str(page.relative_to(DOCS).with_suffix("")) for page in DOCS.rglob("*.md") if page.parent != DOCS}
    assert listed == {name for name in there if not name.startswith("_build")}


def words_of(key: object) -> set[str]:
    """Every key and every fixed word that a part of a schema allows."""
    found: set[str] = set()
    if isinstance(key, Table):
        found |= set(key.keys)
    if isinstance(key, Word):
        found |= set(key.choices)
    if dataclasses.is_dataclass(key) and not isinstance(key, type):
        for field in dataclasses.fields(key):
            value = getattr(key, field.name)
            parts = value.values() if hasattr(value, "values") else value if isinstance(value, tuple) else [value]
            for part in parts:
                found |= words_of(part)
    return found


@pytest.mark.parametrize(("page", "schema"), [("setup-sheet", SHEET), ("session-folder", SESSION)])
def test_every_key_is_described(page: str, schema: Table):
    text = (DOCS / "reference" / f"{page}.md").read_text(encoding="utf-8")
    known = words_of(schema)
    assert len(known) > 15
    assert not {word for word in known if not re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text)}


def toml_blocks() -> list[tuple[str, str]]:
    return [
        (str(page.relative_to(ROOT)), text)
        for page in PAGES
        for text in TOML_BLOCK.findall(page.read_text(encoding="utf-8"))
    ]


@pytest.mark.parametrize(("page", "text"), toml_blocks(), ids=lambda value: value.split("\n")[0][:40])
def test_examples_can_be_read(page: str, text: str):
    """As TOML; and a whole sheet as a sheet."""
    data = tomllib.loads(text)
    assert data, page
    if data.get("format") == "pulsewright setup 1":
        assert setup_from_text(text, page).engine.cylinders == data["engine"]["cylinders"]


def test_the_checks_that_a_page_names_are_there():
    """Tests by path and groups of `verify` on the page of parts."""
    from pulsewright.outside.groups import GROUPS

    text = (ROOT / "docs" / "reference" / "parts-and-their-checks.md").read_text(encoding="utf-8")
    named = re.findall(r"`((?:unit|trade|reference|conservation)/[\w/]+(?:\.py)?)`", text)
    assert len(named) > 25
    assert [path for path in named if not (ROOT / "tests" / path).exists()] == []
    groups = [each for row in re.findall(r"verify ((?:`[\w-]+`(?:, )?)+)", text) for each in re.findall(r"[\w-]+", row)]
    assert len(groups) > 8
    assert set(groups) <= set(GROUPS)
