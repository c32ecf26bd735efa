import pickle

import pytest

from pulsewright import errors


def test_an_error_says_what_where_and_what_to_try():
    error = errors.InputError("too long", where="twin.toml, line 41", hint="use millimetres")
    assert str(error) == "too long\n  where: twin.toml, line 41\n  try:   use millimetres"
    assert str(errors.InputError("too long")) == "too long"


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("InputError", 4),
        ("UsageError", 2),
        ("MissingToolError", 3),
        ("LimitError", 1),
        ("CancelledError", 130),
    ],
)
def test_every_kind_has_its_exit_code(kind: str, code: int):
    error = getattr(errors, kind)("x")
    assert isinstance(error, errors.PulsewrightError)
    assert error.exit_code == code
    assert error.as_json()["exit_code"] == code


def test_the_first_place_is_kept():
    error = errors.InputError("x", hint="h")
    assert error.at("here").where == "here"
    assert error.at("here").at("there").where == "here"
    assert isinstance(error.at("here"), errors.InputError)


def test_an_error_survives_the_way_between_processes():
    error = pickle.loads(pickle.dumps(errors.InputError("w", where="p", hint="h")))
    assert (error.what, error.where, error.hint) == ("w", "p", "h")


def test_unknown_names_get_the_nearest_known_ones():
    assert errors.nearest("main_jett", ["main_jet", "venturi", "main_nozzle"])[0] == "main_jet"
    assert errors.did_you_mean("xyz", ["b", "a"]) == "known here: a, b"
    assert "main_jet" in errors.did_you_mean("mainjet", ["main_jet", "venturi"])
