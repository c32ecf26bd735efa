"""An ASAM MDF measurement file as tab-separated text, which the reader then takes as any other.

Every channel has its own clock. All are brought to the clock of the channel with most samples, by straight
lines between a channel's own samples and never beyond them.
"""

from __future__ import annotations

import gc
import importlib
import io
import re
import sys
from typing import Any

import numpy as np

from pulsewright.errors import InputError, MissingToolError

MOST_NUMBERS = 30_000_000  # of all channels together; four times what the largest text file holds
MOST_SAMPLES = 2_000_000  # of one channel; an hour at 500 Hz


def is_measurement_file(data: bytes) -> bool:
    """Whether the bytes are an MDF file."""
    return data.startswith((b"MDF ", b"UnFinMF "))


def measurement_text(data: bytes, *, where: str) -> str:
    """All numeric channels over one clock, names with their units in the heading."""
    signals = _signals(_asammdf(where), data, where)
    if not signals:
        raise InputError("the measurement file holds no numeric channel", where=where, hint="export the pull as CSV")
    clock = max(signals, key=lambda each: each.timestamps.size).timestamps
    if clock.size > MOST_SAMPLES:
        raise InputError(
            f"a channel has {clock.size} samples; here it is at most {MOST_SAMPLES}", where=where,
            hint="export at a lower rate (20 to 100 rows a second are plenty)",
        )  # fmt: skip
    columns = [clock - clock[0], *(_over(clock, each) for each in signals)]
    headings = ["time (s)", *(_heading(each.name, each.unit) for each in signals)]
    rows = ["\t".join("" if np.isnan(x) else repr(float(x)) for x in row) for row in zip(*columns, strict=True)]
    return "\n".join(["\t".join(headings), *rows])


def _asammdf(where: str) -> Any:
    try:
        return importlib.import_module("asammdf")
    except ImportError:
        raise MissingToolError(
            "an MDF file needs the library asammdf, which is not installed", where=where,
            hint='pip install "pulsewright[mdf]", or export the pull as CSV',
        ) from None  # fmt: skip


def _signals(mdf: Any, data: bytes, where: str) -> list[Any]:
    """Numeric channels of the file. Raises InputError where it is damaged."""
    hook, reason = sys.unraisablehook, ""
    sys.unraisablehook = lambda _: None  # the library's half-opened file complains once more when it is dropped
    try:
        with mdf.MDF(io.BytesIO(data)) as file:
            _refuse_bomb(file, where)
            return [each for each in file.iter_channels(skip_master=True) if _is_numeric(each)]
    except InputError:
        raise
    except Exception as error:  # a damaged file ends in whatever the parser met first
        reason = str(error) or type(error).__name__
    finally:
        gc.collect()
        sys.unraisablehook = hook
    raise InputError(f"the measurement file cannot be read: {reason}", where=where, hint="export it again, or as CSV")


def _refuse_bomb(file: Any, where: str) -> None:
    """Packed blocks can hold a thousand times their size: what is promised is counted before it is unpacked."""
    count = sum(group.channel_group.cycles_nr * len(group.channels) for group in file.groups)
    if count > MOST_NUMBERS:
        raise InputError(
            f"the measurement file unpacks to {count / 1e6:.0f} million numbers; allowed: {MOST_NUMBERS / 1e6:.0f}",
            where=where, hint="export one pull a file, fewer channels, or at a lower rate (20 to 100 rows a second "
            "are plenty)",
        )  # fmt: skip


def _is_numeric(signal: Any) -> bool:
    samples = signal.samples
    return samples.ndim == 1 and samples.dtype.kind in "iuf" and samples.size > 1 and not _is_clock(signal)


def _is_clock(signal: Any) -> bool:
    return signal.samples.size == signal.timestamps.size and np.array_equal(signal.samples, signal.timestamps)


def _over(clock: np.ndarray, signal: Any) -> np.ndarray:
    values = signal.samples.astype(np.float64)
    known = np.isfinite(values)
    if not known.any():
        return np.full(clock.shape, np.nan)
    return np.interp(clock, signal.timestamps[known], values[known], left=np.nan, right=np.nan)


def _heading(name: str, unit: str) -> str:
    text = f"{name} ({unit})" if unit and unit.strip() not in ("", "-") else name
    return re.sub(r"\s+", " ", text).replace('"', "'").strip()
