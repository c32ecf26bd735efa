"""The shop's own catalogue, remembered in the record store once it was given."""

from __future__ import annotations

from pathlib import Path

from pulsewright.bench.toml_file import read_text, write_text
from pulsewright.remedies.catalogue import Catalogue, general_catalogue, read_catalogue

NAME = "catalogue.toml"


def shop_catalogue(store: Path, given: Path | None = None) -> Catalogue:
    """The catalogue to work with: the shop's file `given`, else the one remembered in the store, else the general one.

    A file that is given is checked first and then copied into the store, so that later runs use it too.
    Raises InputError for a file that is none.
    """
    kept = store / NAME
    if given is not None:
        found = read_catalogue(given)
        if given.resolve() != kept.resolve():
            write_text(read_text(given), kept)
        return found
    return read_catalogue(kept) if kept.exists() else general_catalogue()
