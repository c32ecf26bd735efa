"""The store beside a plain dictionary: whatever a person does in whatever order, the two say the same."""

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, precondition, rule

from pulsewright.demo.copy_session import SESSION
from pulsewright.errors import InputError
from pulsewright.records.store import Store

SHEET = (SESSION / "setup.toml").read_text(encoding="utf-8")
TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=12).map(str.strip)
NAMES = st.sampled_from(["B", "C", "D", "leaner"])
JETS = st.sampled_from(["1.70 mm", "1.80 mm", "2.00 mm"])
RAW = st.sampled_from([b"1", b"2", b"3", b"\x00\xff"])
JET = "carburettor.1.main_jet"


@dataclass
class ModelJob:
    """A job as a dictionary would have it."""

    title: str
    complaint: str = ""
    binned: bool = False
    setups: dict[str, list[tuple[str | None, Any, str]]] = field(default_factory=dict)  # name: base, changes, note
    pulls: list[tuple[int, str, str, bytes]] = field(default_factory=list)  # id, setup, file name, bytes
    answers: list[tuple[str, dict]] = field(default_factory=list)


class StoreBesideDictionary(RuleBasedStateMachine):
    """Every rule does the same to both."""

    jobs = Bundle("jobs")

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.store = Store.open(Path(self.folder.name))
        self.model: dict[int, ModelJob] = {}

    def teardown(self) -> None:
        assert self.store.check() == []
        self.store.close()
        self.folder.cleanup()

    @initialize(target=jobs)
    def first(self) -> int:
        return self.new_job_of("first", "")

    def new_job_of(self, title: str, complaint: str) -> int:
        id = self.store.new_job(title, "", complaint, SHEET).id
        assert id not in self.model
        self.model[id] = ModelJob(title, complaint, setups={"A": [(None, [], "")]})
        return id

    @rule(target=jobs, title=TEXTS.filter(bool), complaint=TEXTS)
    def new_job(self, title: str, complaint: str) -> int:
        return self.new_job_of(title, complaint)

    @rule(job=jobs, title=TEXTS.filter(bool), complaint=TEXTS)
    def edit_job(self, job: int, title: str, complaint: str) -> None:
        self.store.edit_job(job, title=title, complaint=complaint)
        self.model[job].title, self.model[job].complaint = title, complaint

    @rule(job=jobs, binned=st.booleans())
    def bin_job(self, job: int, binned: bool) -> None:
        (self.store.delete_job if binned else self.store.restore_job)(job)
        self.model[job].binned = binned

    @rule(target=jobs, job=jobs)
    def copy_job(self, job: int) -> int:
        id = self.store.copy_job(job, "copy").id
        last = {name: [states[-1]] for name, states in self.model[job].setups.items()}
        self.model[id] = ModelJob("copy", self.model[job].complaint, setups=last)
        return id

    @rule(target=jobs, job=jobs)
    def carry_job(self, job: int) -> int:
        path = self.store.export_job(job, Path(self.folder.name) / "carried")
        id = self.store.import_job(path).id
        old = self.model[job]
        pulls = [(new.id, *pull[1:]) for new, pull in zip(self.store.pull_files(id), old.pulls, strict=True)]
        setups = {name: list(states) for name, states in old.setups.items()}
        self.model[id] = ModelJob(old.title, old.complaint, False, setups, pulls, list(old.answers))
        return id

    @rule(job=jobs, name=NAMES, jet=JETS, note=TEXTS)
    def add_setup(self, job: int, name: str, jet: str, note: str) -> None:
        setups = self.model[job].setups
        if name in setups:
            with pytest.raises(InputError, match="already"):
                self.store.add_setup(job, name, {JET: jet}, note)
            return
        self.store.add_setup(job, name, {JET: jet}, note)
        setups[name] = [(list(setups)[-1], [(JET, jet)], note)]

    @rule(job=jobs, data=st.data(), jet=JETS)
    def correct_setup(self, job: int, data: st.DataObject, jet: str) -> None:
        states = self.model[job].setups[name := data.draw(st.sampled_from(sorted(self.model[job].setups)))]
        self.store.correct_setup(job, name, changes={JET: jet})
        states.append((states[-1][0], [(JET, jet)], states[-1][2]))

    @rule(job=jobs, jet=st.sampled_from(["1 m", "", "nonsense"]))
    def wrong_change(self, job: int, jet: str) -> None:
        with pytest.raises(InputError):
            self.store.add_setup(job, "wrong", {JET: jet})

    @rule(job=jobs, data=st.data(), name=TEXTS, raw=RAW)
    def add_pull(self, job: int, data: st.DataObject, name: str, raw: bytes) -> None:
        model = self.model[job]
        setup = data.draw(st.sampled_from(sorted(model.setups)))
        if any(raw == each for *_, each in model.pulls):
            with pytest.raises(InputError, match="already"):
                self.store.add_pull_file(job, setup, name, raw)
            return
        pull = self.store.add_pull_file(job, setup, name, raw)
        model.pulls.append((pull.id, setup, pull.file_name, raw))

    @precondition(lambda self: any(job.pulls for job in self.model.values()))
    @rule(data=st.data())
    def remove_pull(self, data: st.DataObject) -> None:
        model = data.draw(st.sampled_from([job for job in self.model.values() if job.pulls]))
        pull = data.draw(st.sampled_from(model.pulls))
        self.store.remove_pull_file(pull[0])
        model.pulls.remove(pull)

    @precondition(lambda self: any(job.pulls for job in self.model.values()))
    @rule(data=st.data(), to=st.integers(1, 4))
    def move_pull(self, data: st.DataObject, to: int) -> None:
        model = data.draw(st.sampled_from([job for job in self.model.values() if job.pulls]))
        pull = data.draw(st.sampled_from(model.pulls))
        self.store.edit_pull_file(pull[0], number=to)
        model.pulls.remove(pull)
        model.pulls.insert(to - 1, pull)

    @rule(job=jobs, number=st.integers())
    def keep_answer(self, job: int, number: int) -> None:
        assert self.store.keep_answer(job, "explain", {"n": number}).current
        self.model[job].answers.append(("explain", {"n": number}))

    @rule()
    def open_again(self) -> None:
        self.store.close()
        self.store = Store.open(Path(self.folder.name))

    @invariant()
    def both_say_the_same(self) -> None:
        for binned in (False, True):
            found = {line.id: (line.title, line.complaint, line.setups, line.pulls)
                     for line in self.store.jobs(binned=binned)}  # fmt: skip
            assert found == {
                id: (job.title, job.complaint, len(job.setups), len(job.pulls))
                for id, job in self.model.items()
                if job.binned == binned
            }

    @rule(job=jobs)
    def all_of_a_job_is_the_same(self, job: int) -> None:
        model = self.model[job]
        history: dict[str, list] = {}
        for row in self.store.setup_history(job):
            history.setdefault(row.name, []).append((row.based_on, list(row.changes), row.note))
        assert history == model.setups
        assert [row.name for row in self.store.setups(job)] == list(model.setups)
        pulls = self.store.pull_files(job)
        assert [(p.id, p.setup, p.file_name, self.store.raw(p)) for p in pulls] == model.pulls
        assert [p.number for p in pulls] == list(range(1, len(pulls) + 1))
        assert [(a.kind, a.data) for a in reversed(self.store.answers(job))] == model.answers


StoreBesideDictionary.TestCase.settings = settings(
    max_examples=15,
    stateful_step_count=15,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
TestStoreBesideDictionary = StoreBesideDictionary.TestCase
