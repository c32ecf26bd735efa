"""Pages without a browser: what they show, what they refuse, and that nothing a person typed becomes markup."""

from pathlib import Path

import pytest
from tests.unit.web.conftest import Screen

from pulsewright.demo.copy_session import SESSION

EVIL = "<script>alert(1)</script><img src=x onerror=alert(2)>{{7*7}}"


def test_an_empty_store_offers_the_example(screen: Screen):
    assert "Open the invented example" in screen.client.get("/").text


def test_jobs_are_listed_and_found_by_their_words(screen: Screen):
    job = screen.example()
    assert f"/jobs/{job}" in screen.client.get("/").text
    assert f"/jobs/{job}" in screen.client.get("/", params={"words": "kicks narrow"}).text
    assert "No job has all" in screen.client.get("/", params={"words": "unfindable"}).text


def test_a_job_shows_what_changed_from_one_setup_to_the_next(screen: Screen):
    text = screen.client.get(f"/jobs/{screen.example()}").text
    assert "main jet 1.85 mm" in text
    assert "plate 12 mm" in text
    assert "proven" in text


def test_a_new_job_from_a_sheet(screen: Screen):
    sheet = (SESSION / "setup.toml").read_bytes()
    answer = screen.post("/new/sheet", {"machine": "test"}, files={"sheet": ("setup.toml", sheet)})
    assert answer.status_code == 200
    assert "bore" not in screen.store.jobs()[0].title
    assert "94 mm" in answer.text


def test_a_new_job_from_the_form_first_shows_what_is_assumed(screen: Screen):
    from tests.unit.new.test_answered_sheet import ANSWERS

    answer = screen.post("/new/form", {"machine": "single", **ANSWERS})
    assert "What is assumed" in answer.text
    assert screen.store.jobs() == []
    assert screen.post("/new/form", {"machine": "single", "make": "1", **ANSWERS}).status_code == 200
    assert screen.store.jobs()[0].title == "single"


def test_a_wrong_answer_in_the_form_is_said_with_what_to_try(screen: Screen):
    answer = screen.post("/new/form", {"machine": "x", "bore": "94"})
    assert answer.status_code == 400
    assert "is missing" in answer.text


def test_a_copy_of_a_job_has_its_sheet_and_no_pulls(screen: Screen):
    job = screen.example()
    screen.post("/new/copy", {"of": str(job), "machine": "again"})
    copy = screen.store.jobs("again")[0]
    assert copy.pulls == 0
    assert copy.setups == 3


def test_a_job_is_saved_as_one_file_and_taken_in_again(screen: Screen):
    job = screen.example()
    saved = screen.client.get(f"/jobs/{job}/file")
    assert f"/jobs/{job}/file" in screen.client.get(f"/jobs/{job}").text
    assert saved.headers["content-disposition"] == f'attachment; filename="job-{job}.pulsewright"'
    answer = screen.post("/new/sheet", files={"sheet": (f"job-{job}.pulsewright", saved.content)})
    assert answer.status_code == 200
    first, second = (screen.store.pull_files(line.id) for line in screen.store.jobs())
    assert len(screen.store.jobs()) == 2
    assert [pull.sha256 for pull in first] == [pull.sha256 for pull in second]
    assert len(first) > 3


def test_a_damaged_file_of_a_job_is_refused_whole(screen: Screen):
    saved = screen.client.get(f"/jobs/{screen.example()}/file").content
    for data in (saved[: len(saved) // 2], b"", b"no zip file"):
        answer = screen.post("/new/sheet", files={"sheet": ("job-1.pulsewright", data)})
        assert answer.status_code == 400
        assert "job-1.pulsewright" in answer.text
        assert "save or export the job again" in answer.text
        assert "/tmp" not in answer.text
    assert len(screen.store.jobs()) == 1


def test_a_file_of_a_job_that_is_too_large_is_refused(screen: Screen, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("pulsewright.web.uploads.LARGEST_TOGETHER", 1000)
    saved = screen.client.get(f"/jobs/{screen.example()}/file").content
    answer = screen.post("/new/sheet", files={"sheet": ("job-1.pulsewright", saved)})
    assert answer.status_code == 400
    assert "larger than" in answer.text


def test_there_is_no_file_of_no_job(screen: Screen):
    assert screen.client.get("/jobs/77/file").status_code == 404


def test_pulls_are_taken_in_and_told_apart(screen: Screen):
    sheet = (SESSION / "setup.toml").read_bytes()
    screen.post("/new/sheet", {"machine": "test"}, files={"sheet": ("setup.toml", sheet)})
    job = screen.store.jobs()[0].id
    files = [("files", (p.name, p.read_bytes())) for p in sorted((SESSION / "pulls").glob("0[1-3].csv"))]
    answer = screen.post(
        f"/jobs/{job}/pulls", {"setup": "A", "air_temperature": "20", "air_pressure": "99,9"}, files=files
    )
    assert answer.text.count('class="good"') == 3
    assert "Hole" in answer.text
    pull = screen.store.pull_files(job)[0]
    assert pull.settings["air"] == {"temperature": "20 degC", "pressure": "99,9 kPa"}
    assert screen.store.raw(pull) == (SESSION / "pulls" / "01.csv").read_bytes()
    again = screen.post(f"/jobs/{job}/pulls", {"setup": "A"}, files=files[:1])
    assert "in the job already" in again.text
    curves = screen.client.get(f"/jobs/{job}/curves.json").json()
    assert [c["name"] for c in curves["curves"]] == ["A"]


def test_a_file_that_is_no_table_is_named_and_not_kept(screen: Screen):
    job = screen.example()
    before = len(screen.store.pull_files(job))
    answer = screen.post(
        f"/jobs/{job}/pulls", {"setup": "A"}, files=[("files", ("photo.csv", b"\x89PNG\x00\x01" * 50))]
    )
    assert "photo.csv" in answer.text
    assert len(screen.store.pull_files(job)) == before


def pull_with(headings: str) -> bytes:
    """A made-up pull whose two last columns say nothing by their names."""
    rows = [f"{0.05 * k:.2f};{1800 + 10 * k};{90 + 0.02 * k:.2f};{0.86 + 0.0001 * k:.4f}" for k in range(300)]
    return "\n".join([headings, *rows]).encode()


def test_a_column_put_right_is_kept_and_remembered(screen: Screen):
    """A file whose torque has a name that says nothing: named by hand once, known in the next job."""
    sheet = {"sheet": ("setup.toml", (SESSION / "setup.toml").read_bytes())}
    screen.post("/new/sheet", {"machine": "one"}, files=sheet)
    job = screen.store.jobs()[0].id
    file = [("files", ("a.csv", pull_with("Zeit;Drehzahl;Kanal X;Lambda")))]
    answer = screen.post(f"/jobs/{job}/pulls", {"setup": "A"}, files=file)
    assert "could not be read" in answer.text
    assert 'value="Kanal X"' in answer.text
    said = {
        "heading-3": "Kanal X",
        "quantity-3": "torque",
        "quantity-was-3": "unused",
        "unit-3": "Nm",
        "torque": "engine",
    }
    screen.post(f"/jobs/{job}/channels", said)
    day = screen.desk.day(job)
    assert day.trouble is None
    assert day.pulls is not None
    assert day.pulls.setups["A"].torque.max() == pytest.approx(96.0, abs=0.5)
    assert len(screen.store.mappings()) == 1
    screen.post(
        "/new/sheet", {"machine": "two"}, files={"sheet": ("setup.toml", (SESSION / "setup.toml").read_bytes())}
    )
    other = screen.store.jobs("two")[0].id
    again = screen.post(f"/jobs/{other}/pulls", {"setup": "A"}, files=file)
    assert again.text.count('class="good"') == 1


def test_a_torque_at_the_wheel_is_said_once_for_a_job(screen: Screen):
    job = screen.example()
    screen.post(f"/jobs/{job}/channels", {"torque": "wheel"})
    found = screen.desk.day(job).pulls
    assert found is not None
    assert {p.torque_at for p in found.pulls} == {"wheel"}


@pytest.mark.parametrize("path", ["/", "/jobs/{job}", "/jobs/{job}/pulls", "/jobs/{job}/cause", "/jobs/{job}/change"])
def test_what_a_person_typed_is_text(screen: Screen, path: str):
    job = screen.example()
    screen.store.edit_job(job, title=EVIL, machine=EVIL, complaint=EVIL)
    screen.store.add_setup(job, "D <b>", [("carburettor.1.main_jet", "1.90 mm")], EVIL, based_on="A")
    text = screen.client.get(path.format(job=job)).text
    assert "<script>alert" not in text
    assert "<img src=x" not in text
    assert "{{7*7}}" in text or EVIL.split("{")[0] not in text
    assert ">49<" not in text


def test_a_hostile_sheet_and_file_name_show_as_text(screen: Screen):
    sheet = (SESSION / "setup.toml").read_text().replace("narrow twin, open pipes (invented)", EVIL)
    screen.post("/new/sheet", files={"sheet": ("<b>.toml", sheet.encode())})
    job = screen.store.jobs()[0].id
    data = (SESSION / "pulls" / "01.csv").read_bytes()
    answer = screen.post(
        f"/jobs/{job}/pulls", {"setup": "A"}, files=[("files", ("<img src=x onerror=alert(1)>.csv", data))]
    )
    for text in (answer.text, screen.client.get("/").text, screen.client.get(f"/jobs/{job}").text):
        assert "<script>alert" not in text
        assert "<img src=x" not in text


def test_an_unknown_job_is_a_page_that_says_so(screen: Screen):
    assert screen.client.get("/jobs/77").status_code == 404
    assert screen.client.get("/jobs/77/change").status_code == 404
    assert screen.client.get("/jobs/99999999999999999999").status_code == 422
    assert screen.client.get("/nowhere").status_code == 404


def test_a_pull_of_another_job_is_not_taken_out(screen: Screen):
    one, other = screen.example(), screen.example()
    pull = screen.store.pull_files(other)[0]
    assert screen.post(f"/jobs/{one}/pulls/{pull.id}/remove").status_code == 400
    assert len(screen.store.pull_files(other)) == 10


def test_no_path_leads_out_of_the_static_files(screen: Screen):
    for path in ("/static/../pages.py", "/static/%2e%2e/pages.py", "/static/..%2fpages.py", "/static//etc/passwd"):
        assert screen.client.get(path).status_code == 404


def test_units_and_theme_are_kept_in_the_browser(screen: Screen):
    job = screen.example()
    newton = screen.client.get(f"/jobs/{job}/curves.json").json()
    screen.post(
        "/look", {"torque": "lbf·ft", "mixture": "AFR", "theme": "slate", "size": "large", "back": "//evil.example"}
    )
    pound = screen.client.get(f"/jobs/{job}/curves.json").json()
    assert pound["torqueUnit"] == "lbf·ft"
    assert newton["curves"][0]["torque"][5] / pound["curves"][0]["torque"][5] == pytest.approx(1.35582, rel=1e-4)
    assert pound["curves"][0]["lambda"][5] / newton["curves"][0]["lambda"][5] == pytest.approx(14.3, rel=1e-3)
    assert 'data-theme="slate" class="large"' in screen.client.get("/").text
    assert 'data-theme="auto"' in screen.browser().get("/").text


def test_where_mixture_is_an_air_fuel_ratio_the_page_says_what_lambda_of_its_sentences_is(screen: Screen):
    job = screen.example()
    assert "0.92 =" not in screen.client.get(f"/jobs/{job}/plan").text
    screen.post("/look", {"mixture": "AFR", "decimal": "comma", "back": "/"})
    for step in ("pulls", "cause", "change", "plan"):
        assert "0,92 = 13,2" in screen.client.get(f"/jobs/{job}/{step}").text  # 14.3 of the example's fuel
    assert "Sentences speak" not in screen.client.get("/").text


def test_after_the_look_one_is_led_back_to_our_own_pages_only(screen: Screen):
    for back in ("//evil.example", "http://evil.example", "/\\evil.example"):
        answer = screen.post("/look", {"back": back}, follow_redirects=False)
        assert answer.headers["location"] == "/"


def test_long_work_is_asked_for_once_and_can_be_stopped(screen: Screen):
    job = screen.example()
    for _ in range(2):
        screen.post(f"/jobs/{job}/cause", {"how": "first"})
    works = screen.store.works(job)
    assert [w.kind for w in works] == ["explain"]
    assert screen.client.get(f"/work/{works[0].id}.json").json()["state"] == "waiting"
    screen.post(f"/work/{works[0].id}/stop")
    assert screen.store.work(works[0].id).state == "stopped"


def test_the_report_needs_an_answer_first(screen: Screen):
    job = screen.example()
    assert "First find the cause" in screen.client.get(f"/jobs/{job}/report").text
    assert screen.client.get(f"/jobs/{job}/report/page").status_code == 400


def test_a_read_only_store_says_so(screen: Screen, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    from pulsewright.errors import InputError

    def refuse(*_args, **_more):
        raise InputError("the disk is full; nothing was kept of this", hint="make room, then do it again")

    monkeypatch.setattr(screen.store, "new_job", refuse)
    answer = screen.post("/new/sheet", files={"sheet": ("s.toml", (SESSION / "setup.toml").read_bytes())})
    assert answer.status_code == 400
    assert "the disk is full" in answer.text
    assert "make room" in answer.text
