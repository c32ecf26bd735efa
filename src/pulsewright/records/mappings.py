"""How shops write their files, by a name for each shop."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

from sqlalchemy import delete, select

from pulsewright.pulls.mapping import Mapping, read_mapping
from pulsewright.records.database import Database, NotKeptError
from pulsewright.records.raw_files import insert_for
from pulsewright.records.tables import mappings, now
from pulsewright.records.texts import NAME, clean


class Mappings(Database):
    """What can be done with remembered mappings."""

    def keep_mapping(self, name: str, text: str) -> Mapping:
        """Remember a mapping file (TOML, `pulsewright mapping 1`) under a name; one of that name is replaced."""
        name = clean(name, "name of the mapping", NAME, needed=True)
        mapping = _read(text)
        with self.writing() as connection:
            told = {"text": text, "made": now()}
            row = insert_for(connection)(mappings).values(name=name, **told)
            connection.execute(row.on_conflict_do_update(index_elements=["name"], set_=told))
        return mapping

    def mappings(self) -> dict[str, Mapping]:
        """All that are remembered, by name."""
        with self.reading() as connection:
            rows = connection.execute(select(mappings.c.name, mappings.c.text).order_by(mappings.c.name)).all()
        return {row.name: _read(row.text) for row in rows}

    def mapping_text(self, name: str) -> str:
        """TOML of one mapping, as it was given."""
        with self.reading() as connection:
            text = connection.execute(select(mappings.c.text).where(mappings.c.name == name)).scalar()
        if text is None:
            raise NotKeptError(f"no mapping is called '{name}'")
        return text

    def fitting_mappings(self, headings: Iterable[str]) -> list[str]:
        """Names of those that name only columns which a file with these headings has."""
        known = list(headings)
        return [name for name, mapping in self.mappings().items() if mapping.fits(known)]

    def forget_mapping(self, name: str) -> None:
        """Remove one."""
        with self.writing() as connection:
            connection.execute(delete(mappings).where(mappings.c.name == name))


def _read(text: str) -> Mapping:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mapping.toml"
        path.write_text(text, encoding="utf-8")
        return read_mapping(path)
