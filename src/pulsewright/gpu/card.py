"""Whether there is a card to compute on, and the compiler for it."""

from __future__ import annotations

import functools
import importlib.util
from dataclasses import dataclass

from numba import config

from pulsewright.errors import MissingToolError
from pulsewright.physics.compiled import COMPILED

INSTALL = 'pip install "pulsewright[gpu]", or compute on the processor'
SIMULATOR = "CUDA simulator"
SIMULATED_MEMORY, SIMULATED_MULTIPROCESSORS = 227 * 1024, 1  # the first in bytes, as on an H100


@dataclass(frozen=True, slots=True)
class Card:
    """What computes: its name, the shared memory a block may have [bytes], and how many multiprocessors there are."""

    name: str
    shared_memory: int
    multiprocessors: int


@functools.cache
def open_card() -> Card:
    """The card of this machine, with its compiler made ready.

    Raises
    ------
    MissingToolError : the package numba-cuda is not installed, or there is no card that works.
    """
    _compile_for_the_card()
    if config.ENABLE_CUDASIM:  # type: ignore[attr-defined]
        return Card(SIMULATOR, SIMULATED_MEMORY, SIMULATED_MULTIPROCESSORS)
    if importlib.util.find_spec("numba_cuda") is None:
        raise MissingToolError(
            "computing on a graphics card needs the library numba-cuda, which is not installed", hint=INSTALL
        )
    card = _first_card()
    _write_quick_code()
    return card


def _compile_for_the_card() -> None:
    """Options with which the functions of `physics` and `kernel` are compiled once more, for the card.

    Numba would take "contract" there for all of fastmath, with which a lost cell is no longer noticed. The
    processor's compiler has its options already and keeps them.
    """
    config.CUDA_LOW_OCCUPANCY_WARNINGS = 0  # type: ignore[attr-defined]
    for function in COMPILED:
        options = getattr(function, "targetoptions", {})  # a plain function where Numba is switched off
        function.targetoptions = {"forceinline": options.get("forceinline", False), "fastmath": False}


def _write_quick_code() -> None:
    """Have what is compiled for the card from now on short enough for its memory of instructions."""
    from pulsewright.gpu.plain_indices import use_plain_indices
    from pulsewright.gpu.quick_arithmetic import use_quick_arithmetic

    use_quick_arithmetic()
    use_plain_indices()


def _first_card() -> Card:
    try:
        from numba import cuda

        device = cuda.get_current_device()
        name = device.name
        return Card(
            name=name.decode() if isinstance(name, bytes) else str(name),
            shared_memory=int(device.MAX_SHARED_MEMORY_PER_BLOCK_OPTIN),
            multiprocessors=int(device.MULTIPROCESSOR_COUNT),
        )
    except Exception as error:  # the driver, its version or the toolkit: each has errors of its own
        raise MissingToolError(
            f"no graphics card that can be computed on was found ({str(error).strip().splitlines()[-1]})",
            hint="a CUDA card of compute capability 7.0 or later with its driver is needed, "
            "or compute on the processor",
        ) from error
