"""A job as one file, and files that are none."""

import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pulsewright.demo.copy_session import SESSION
from pulsewright.errors import InputError
from pulsewright.records import carry
from pulsewright.records.jobs import Job
from pulsewright.records.raw_files import fingerprint
from pulsewright.records.store import Store


def full_job(store: Store) -> Job:
    """A job with everything that a job can have."""
    job = store.take_in(SESSION)
    store.keep_side_file(job.id, "ours.toml", b'format = "pulsewright limits 1"\n')
    store.edit_job(job.id, settings={**job.settings, "limits": "ours.toml"})
    store.correct_setup(job.id, "B", changes={"carburettor.1.main_jet": "1.82 mm"}, note="gauged")
    store.add_setup(job.id, "D ü", {"carburettor.1.main_air_bleed": "1.10 mm"}, based_on="C")
    store.edit_pull_file(store.pull_files(job.id)[4].id, number=1)
    store.keep_answer(job.id, "fit", {"odd": "\x00\ud800ü", "rows": [0.1, None]}, seed=3)
    store.keep_answer(job.id, "explain", {"verdict": "exhaust wave"})
    return store.job(job.id)


def content(store: Store, id: int) -> tuple:
    """All that is kept of a job, without its numbers in the store."""
    job = store.job(id)
    setups = [(s.number, s.name, s.version, s.based_on, s.sheet_name, s.sheet_text, s.changes, s.note, s.made)
              for s in store.setup_history(id)]  # fmt: skip
    pulls = [(p.number, p.setup, p.file_name, p.sha256, p.recipe, p.settings, p.made, store.raw(p))
             for p in store.pull_files(id)]  # fmt: skip
    answers = [(a.kind, a.data, a.code, a.sheet_hash, a.data_hash, a.seed, a.made, a.stale) for a in store.answers(id)]
    head = (job.title, job.machine, job.complaint, job.settings, job.made)
    return head, setups, pulls, answers, store.side_files(id), store.hashes(id)


def test_a_job_comes_back_as_it_was(store: Store, tmp_path: Path):
    job = full_job(store)
    again = store.import_job(store.export_job(job.id, tmp_path / "a.pulsewright"))
    assert again.id != job.id
    assert content(store, again.id) == content(store, job.id)
    assert [line.id for line in store.jobs("gauged")] == [again.id, job.id]
    assert store.check() == []


def test_it_goes_from_one_store_to_another(store: Store, tmp_path: Path):
    job = full_job(store)
    with Store.open(tmp_path / "other") as other:
        again = other.import_job(store.export_job(job.id, tmp_path))
        assert content(other, again.id) == content(store, job.id)


def test_a_folder_gets_a_file_named_by_the_job(lite: Store, sheet: str, tmp_path: Path):
    job = lite.new_job("twin", "", "", sheet)
    assert lite.export_job(job.id, tmp_path) == tmp_path / f"job-{job.id}.pulsewright"
    with pytest.raises(InputError, match="cannot write"):
        lite.export_job(job.id, tmp_path / "nowhere" / "a")


# ---- files that are none --------------------------------------------------------------------------------


@pytest.fixture
def exported(lite: Store, sheet: str, tmp_path: Path) -> Path:
    job = lite.new_job("twin", "m", "c", sheet, settings={"riding_band": ["2000 rpm", "4000 rpm"]})
    lite.add_pull_file(job.id, "A", "a.csv", b"rpm,Nm\n")
    lite.keep_answer(job.id, "explain", {"verdict": "x"})
    return lite.export_job(job.id, tmp_path / "job")


def members_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def pack(path: Path, members: dict[str, bytes], *, manifest: bool = True) -> Path:
    """An archive of these members; with a manifest that says so, as somebody would make who wants to be believed."""
    if manifest:
        rows = {n: {"sha256": fingerprint(c), "bytes": len(c)} for n, c in members.items() if n != carry.MANIFEST}
        head = json.loads(members[carry.MANIFEST])
        members = {**members, carry.MANIFEST: json.dumps({**head, "members": rows}).encode()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


def refused(lite: Store, path: Path, match: str) -> None:
    before = len(lite.jobs())
    with pytest.raises(InputError, match=match) as caught:
        lite.import_job(path)
    assert str(path) in str(caught.value)
    assert len(lite.jobs()) == before
    assert lite.check() == []


def with_job(path: Path, change: Callable[[dict[str, Any]], Any]) -> Path:
    """The file with its job changed, and fingerprints that fit."""
    members = members_of(path)
    job = json.loads(members[carry.JOB])
    change(job)
    return pack(path, {**members, carry.JOB: json.dumps(job).encode()})


def test_every_flipped_byte_is_seen_or_does_no_harm(lite: Store, exported: Path):
    data, before = exported.read_bytes(), content(lite, 1)
    seen = 0
    for place in range(0, len(data), max(1, len(data) // 150)):
        exported.write_bytes(data[:place] + bytes([data[place] ^ 0x41]) + data[place + 1 :])
        try:
            again = lite.import_job(exported)
        except InputError:
            seen += 1
        else:  # in what the archive says of times and rights, which nobody reads
            assert content(lite, again.id) == before
    assert seen > 75


def test_every_cut_is_seen(lite: Store, exported: Path):
    data = exported.read_bytes()
    for place in range(0, len(data), max(1, len(data) // 40)):
        exported.write_bytes(data[:place])
        refused(lite, exported, "no file of a job")


def test_a_changed_member_is_seen(lite: Store, exported: Path):
    members = members_of(exported)
    raw = next(name for name in members if name.startswith("raw/"))
    refused(lite, pack(exported, {**members, raw: b"rpm,Nn\n"}, manifest=False), "not what was exported")


@pytest.mark.parametrize("name", ["../evil", "/etc/cron.d/evil", "raw/../../evil", "raw/evil", "C:\\evil", "notes.txt"])
@pytest.mark.parametrize("listed", [True, False])
def test_no_other_name_gets_in(lite: Store, exported: Path, tmp_path: Path, name: str, listed: bool):
    before = sorted(str(path) for path in tmp_path.rglob("*"))
    packed = pack(exported, {**members_of(exported), name: b"x"}, manifest=listed)
    refused(lite, packed, "something else than its manifest")
    assert sorted(str(path) for path in tmp_path.rglob("*")) == before


def test_a_name_twice_is_refused(lite: Store, exported: Path):
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(exported, "a") as archive:
        archive.writestr(carry.JOB, b"{}")
    refused(lite, exported, "no file of a job")


def test_a_member_that_unpacks_to_more_than_it_says_is_refused(lite: Store, exported: Path):
    """A bomb whose manifest is modest."""
    members = members_of(exported)
    bomb = {**members, carry.JOB: members[carry.JOB] + b" " * 50_000_000}
    refused(lite, pack(exported, bomb, manifest=False), "larger than it says")


def test_a_bomb_that_admits_it_is_refused_before_it_is_unpacked(
    lite: Store, exported: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(carry, "LARGEST_UNPACKED", 2_000)
    refused(lite, exported, "unpacks to more than")


def test_a_manifest_bomb_is_refused(lite: Store, exported: Path):
    members = members_of(exported)
    large = members[carry.MANIFEST] + b" " * (carry.LARGEST_MANIFEST + 1)
    refused(lite, pack(exported, {**members, carry.MANIFEST: large}, manifest=False), "larger than it says")


def test_too_many_members_are_refused(lite: Store, exported: Path):
    many = {f"raw/{n:064x}": b"" for n in range(carry.MOST_MEMBERS + 1)}
    refused(lite, pack(exported, {**members_of(exported), **many}, manifest=False), "no file of a job")


def test_a_newer_form_is_refused_by_name(lite: Store, exported: Path):
    members = members_of(exported)
    newer = members[carry.MANIFEST].replace(b"job file 1", b"job file 2")
    refused(lite, pack(exported, {**members, carry.MANIFEST: newer}, manifest=False), "'pulsewright job file 2'")


@pytest.mark.parametrize("data", [b"", b"PK\x05\x06" + bytes(18), b"something else", b"PK\x03\x04" + bytes(100)])
def test_what_is_no_archive(lite: Store, tmp_path: Path, data: bytes):
    (tmp_path / "x").write_bytes(data)
    refused(lite, tmp_path / "x", "no file of a job")


def test_a_file_that_is_not_there(lite: Store, tmp_path: Path):
    refused(lite, tmp_path / "x", "cannot read")


def test_a_locked_archive(lite: Store, exported: Path):
    data = bytearray(exported.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):  # the flag of encryption, in both headers
        place = data.find(mark)
        while place >= 0:
            data[place + offset] |= 1
            place = data.find(mark, place + 4)
    exported.write_bytes(data)
    refused(lite, exported, "no file of a job")


@pytest.mark.parametrize(
    ("change", "match"),
    [
        (lambda job: job.pop("title"), "title"),
        (lambda job: job.update(title=3), "title"),
        (lambda job: job.update(title=" "), "title is empty"),
        (lambda job: job.update(extra=1), "extra"),
        (lambda job: job.update(setups=[]), "setups"),
        (lambda job: job["setups"][0].update(based_on="A"), "ring"),
        (lambda job: job["setups"][0].update(based_on="Z"), "no setup 'Z'"),
        (lambda job: job["setups"].append(job["setups"][0]), "same name"),
        (lambda job: job["setups"][0]["states"][0].update(sheet_text="x = 1"), "unknown key"),
        (lambda job: job["setups"][0]["states"][0].update(changes=[["a.b", "1"]]), "no path"),
        (lambda job: job["setups"][0]["states"][0].update(sheet_name="../../x"), None),
        (lambda job: job["pulls"].append(job["pulls"][0]), "already"),
        (lambda job: job["pulls"][0].update(setup="Z"), "no setup 'Z'"),
        (lambda job: job["pulls"][0].update(sha256="0" * 64), "do not agree"),
        (lambda job: job["pulls"][0].update(settings={"kind": "jump"}), "kind"),
        (lambda job: job.update(side_files={"../x": job["pulls"][0]["sha256"]}), None),
        (lambda job: job.update(side_files={"setup.toml": job["pulls"][0]["sha256"]}), "cannot be called"),
        (lambda job: job["answers"][0].update(kind="guess"), "no kind"),
        (lambda job: job["answers"][0].update(made="yesterday"), "made"),
        (lambda job: job["settings"].update(setup=[]), "no setting"),
    ],
)
def test_a_job_that_cannot_be_is_refused_even_with_the_right_fingerprints(
    lite: Store, exported: Path, change: Callable[[dict], Any], match: str | None
):
    packed = with_job(exported, change)
    if match is not None:
        refused(lite, packed, match)
        return
    job = lite.import_job(packed)  # a path in a name is cut down to a harmless name
    assert sorted(path.name for path in lite.lay_out(job.id).parent.parent.rglob("x")) in ([], ["x"])
    assert lite.setups(job.id)[0].sheet_name in ("x", "setup.toml")


@pytest.mark.parametrize("text", [b"[" * 200_000, b'{"title": NaN}', b"\xff\xfe", b"[]", b"null", b'{"a": 1e400}'])
def test_odd_json_is_refused(lite: Store, exported: Path, text: bytes):
    refused(lite, pack(exported, {**members_of(exported), carry.JOB: text}), "cannot be read|do not agree")


def test_the_archive_says_what_is_in_it(exported: Path):
    members = members_of(exported)
    manifest = json.loads(members.pop(carry.MANIFEST))
    assert manifest["format"] == "pulsewright job file 1"
    assert set(manifest["members"]) == set(members)
