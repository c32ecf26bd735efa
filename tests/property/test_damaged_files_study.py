"""Mutated pull files by the thousand: the right curve or a clear refusal; and what large files cost."""

import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from tests.property.test_pull_files import RPM, SOUND, TORQUE, _try

from pulsewright.errors import InputError
from pulsewright.pulls.decoding import LARGEST_FILE
from pulsewright.pulls.read_pull import pull_from_bytes, read_pull

KINDS = ("flip", "drop", "insert", "cut", "double", "swap", "line", "lines", "cell", "mark", "zero")


def _mutated(random: np.random.Generator) -> bytes:
    data = SOUND
    for kind in random.choice(KINDS, size=int(random.integers(1, 7))):
        data = _damage(data, str(kind), random)
    return data


def _damage(data: bytes, kind: str, random: np.random.Generator) -> bytes:
    if len(data) < 4:
        return data
    place, length = int(random.integers(0, len(data) - 2)), int(random.integers(1, 60))
    byte = bytes([int(random.integers(0, 256))])
    lines = data.split(b"\n")
    row = int(random.integers(0, len(lines)))
    if kind == "line":  # a line at another place
        lines.insert(int(random.integers(0, len(lines))), lines.pop(row))
        return b"\n".join(lines)
    if kind == "lines":  # a block lost
        return b"\n".join(lines[:row] + lines[row + length // 4 :])
    if kind == "cell":  # a cell lost
        cells = lines[row].split(b";")
        cells.pop(int(random.integers(0, len(cells))))
        lines[row] = b";".join(cells)
        return b"\n".join(lines)
    if kind == "mark":  # other marks in one line
        lines[row] = lines[row].replace(b".", b",")
        return b"\n".join(lines)
    changed = {
        "flip": data[:place] + byte + data[place + 1 :],
        "drop": data[:place] + data[place + length :],
        "insert": data[:place] + byte * (length % 4) + data[place:],
        "cut": data[: max(place, 200)],
        "double": data[:place] + data[place : place + length] + data[place:],
        "swap": data[:place] + data[place : place + 2][::-1] + data[place + 2 :],
        "zero": data[:place] + b"\0" + data[place + 1 :],
    }
    return changed[kind]


def _study(count: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    read = 0
    for k in range(count):
        data = _mutated(random)
        pull, refused = _try(lambda data=data: pull_from_bytes(data, "damaged.csv"))
        if pull is None:
            assert refused is not None
            assert all((refused.what, refused.where, refused.hint)), (k, data)
            continue
        read += 1
        good = pull.usable & np.isfinite(pull.torque)
        off = np.abs(pull.torque[good] / np.interp(pull.engine_speed[good], RPM, TORQUE) - 1.0)
        assert np.median(off) < 0.02, (k, data)
    print(f"{count} mutated files: {read} read right, {count - read} refused")
    assert 0 < read < count


def test_300_mutated_files_are_read_right_or_refused():
    _study(300, seed=1)


@pytest.mark.slow
def test_10000_mutated_files_are_read_right_or_refused():
    _study(10_000, seed=2)


def test_a_file_of_200_mb_is_refused_unread(tmp_path):
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(200 * 1024 * 1024)  # sparse: takes no room on the disk
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="the file is 210 MB"):
            read_pull(path)
        assert tracemalloc.get_traced_memory()[1] < 1e6
    finally:
        tracemalloc.stop()


def _long_file(path: Path, rows: int) -> Path:
    rpm = np.linspace(1800.0, 6000.0, rows)
    torque = np.interp(rpm, RPM, TORQUE)
    with path.open("w") as file:
        file.write("t (s);rpm;M (Nm)\n")
        file.writelines(f"{(n - 1800) / 70:.4f};{n:.2f};{m:.3f}\n" for n, m in zip(rpm, torque, strict=True))
    return path


def test_memory_stays_in_proportion_to_the_file(tmp_path):
    path = _long_file(tmp_path / "a.csv", 6_000)
    tracemalloc.start()
    try:
        read_pull(path)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    print(f"{most / path.stat().st_size:.0f} bytes of memory a byte of file")
    assert most < 40 * path.stat().st_size
    assert LARGEST_FILE * 40 < 3e9  # the largest file that is taken at all fits a workshop's machine
