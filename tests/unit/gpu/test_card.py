"""What a person is told who has no card, or not the package for it."""

import pytest

from pulsewright.errors import MissingToolError
from pulsewright.gpu import card


def test_without_the_package_the_line_that_installs_it_is_named(monkeypatch):
    monkeypatch.setattr(card.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(MissingToolError, match=r"pulsewright\[gpu\]") as told:
        card.open_card.__wrapped__()
    assert told.value.exit_code == 3


def test_without_a_card_the_driver_s_own_words_are_passed_on(monkeypatch):
    from numba import cuda

    def no_driver():
        raise RuntimeError("driver says:\nno CUDA-capable device is detected")

    monkeypatch.setattr(card.importlib.util, "find_spec", lambda name: object())
    monkeypatch.setattr(cuda, "get_current_device", no_driver)
    with pytest.raises(MissingToolError, match="no CUDA-capable device is detected"):
        card.open_card.__wrapped__()


def test_the_processor_s_compiler_keeps_its_options():
    """Options for the card replace what a function shows, never what its compiler for the processor holds."""
    from pulsewright.kernel.cells import face_state

    compiler = face_state._compiler
    before = dict(compiler.targetoptions)
    card._compile_for_the_card()
    assert face_state.targetoptions["fastmath"] is False
    assert dict(compiler.targetoptions) == before
    assert before["fastmath"]
