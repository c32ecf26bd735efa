from pathlib import Path

import pytest

from pulsewright.errors import InputError
from pulsewright.records.folders import cache_folder, store_folder, store_place


def test_the_named_store_comes_before_the_variable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("PULSEWRIGHT_STORE", str(tmp_path / "variable"))
    assert store_folder(tmp_path / "named") == tmp_path / "named"
    assert store_folder() == tmp_path / "variable"
    assert (tmp_path / "variable").is_dir()


def test_without_a_name_it_is_the_place_of_this_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.delenv("PULSEWRIGHT_STORE", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    assert store_folder() == tmp_path / "data" / "pulsewright"
    assert cache_folder() == tmp_path / "cache" / "pulsewright"


def test_a_store_that_cannot_be_made_says_so(tmp_path: Path):
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot make") as caught:
        store_folder(tmp_path / "file" / "store")
    assert "--store" in str(caught.value.hint)


def test_the_address_of_a_database_is_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    address = "postgresql://bay1@server/shop"
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("PULSEWRIGHT_STORE", raising=False)
    assert store_place(address) == address
    assert store_folder(address) == tmp_path / "data" / "pulsewright"  # for what is kept in files
    assert store_place(tmp_path / "named") == tmp_path / "named"
    monkeypatch.setenv("PULSEWRIGHT_STORE", address)
    assert store_place() == address
    assert store_place(tmp_path / "named") == tmp_path / "named"
