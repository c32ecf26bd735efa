"""What a process does that is killed: it writes to a store at random, and notes in a file what was confirmed.

A line of the note is written in one piece after the store has confirmed, so whatever stands there must be kept.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from pulsewright.errors import InputError
from pulsewright.records.store import Store

JET = "carburettor.1.main_jet"
Note = Callable[..., None]


def write_until_killed(
    place: Path | str, note_file: Path, seed: int, sheet: str, folder: Path, most: int = 10**9
) -> None:
    """Open the store and write to it, `most` times at most."""
    random_ = random.Random(seed)
    file = os.open(note_file, os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def note(kind: str, *values: Any) -> None:
        os.write(file, (json.dumps([kind, *values]) + "\n").encode())

    note("began")
    store = Store.open(place)
    store.resume_left_over()
    note("opened")
    for n in range(most):
        action = random_.choice(ACTIONS)
        with suppress(InputError) if action is add_setup else _nothing():
            action(store, random_, note, sheet, folder, f"{seed}-{n}")
    store.close()


class _nothing:
    def __enter__(self) -> None: ...

    def __exit__(self, *_: object) -> None: ...


def _some_job(store: Store, random_: random.Random, sheet: str, note: Note, name: str) -> int:
    ids = [line.id for line in store.jobs()]
    return random_.choice(ids) if ids else new_job(store, random_, note, sheet, Path(), name)


def new_job(store: Store, random_: random.Random, note: Note, sheet: str, folder: Path, name: str) -> int:
    job = store.new_job(f"job {name}", "twin", "flat", sheet)
    note("job", job.id, job.title)
    return job.id


def edit(store: Store, random_: random.Random, note: Note, sheet: str, folder: Path, name: str) -> None:
    job = _some_job(store, random_, sheet, note, name)
    store.edit_job(job, machine=f"machine {name}")
    note("machine", job, f"machine {name}")


def add_setup(store: Store, random_: random.Random, note: Note, sheet: str, folder: Path, name: str) -> None:
    job = _some_job(store, random_, sheet, note, name)
    row = store.add_setup(job, name, {JET: f"1.{random_.randint(60, 99)} mm"}, based_on="A")
    note("setup", job, row.id, name, row.changes)


def upload(store: Store, random_: random.Random, note: Note, sheet: str, folder: Path, name: str) -> None:
    job = _some_job(store, random_, sheet, note, name)
    raw = random_.randbytes(random_.choice([10, 5_000, 300_000]))
    pull = store.add_pull_file(job, "A", f"{name}.csv", raw)
    note("pull", job, pull.id, hashlib.sha256(raw).hexdigest())


def fit(store: Store, random_: random.Random, note: Note, sheet: str, folder: Path, name: str) -> None:
    job = _some_job(store, random_, sheet, note, name)
    work = store.queue_work(job, "fit", {"name": name})
    note("work", work.id)
    claimed = store.claim()
    if claimed is None:
        return
    for step in range(3):
        store.heartbeat(claimed.id, step / 3, f"step {step}")
    answer = store.keep_answer(claimed.job, "fit", {"name": name, "rows": [random_.random()] * 2000}, seed=1)
    note("answer", claimed.job, answer.id, name)
    store.finish(claimed.id)
    note("done", claimed.id)


def report(store: Store, random_: random.Random, note: Note, sheet: str, folder: Path, name: str) -> None:
    job = _some_job(store, random_, sheet, note, name)
    store.lay_out(job)
    store.export_job(job, folder / f"{name}.pulsewright")
    note("file", f"{name}.pulsewright")


ACTIONS = (new_job, edit, add_setup, upload, upload, fit, report)
