"""Requests made from the screen's own description, sensible and senseless: never a failure of the server."""

import warnings
from pathlib import Path
from typing import Any

import pytest
from tests.unit.web.conftest import Screen

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

EXAMPLES = 4  # of each operation
LONG = ("/jobs/{job}/report/pdf",)  # starts a browser


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory):
    place = tmp_path_factory.mktemp("described")
    with Store.open(place) as store:
        store.take_in(SESSION)
    screen = Screen(place)
    yield screen
    screen.store.close()


def test_no_request_breaks_the_server(described: Screen, monkeypatch: pytest.MonkeyPatch):
    from pulsewright.remedies import live_model

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import schemathesis
        from hypothesis import HealthCheck, Phase, given, settings

    def no_model(*_args, **_more):  # what the model says is asked elsewhere
        from pulsewright.errors import LimitError

        raise LimitError("not here")

    monkeypatch.setattr(live_model.LiveModel, "curve", no_model)
    monkeypatch.setattr(live_model.LiveModel, "echo", no_model)
    monkeypatch.setattr(live_model.LiveModel, "warm_up", no_model)
    schema = schemathesis.openapi.from_dict(described.client.get("/openapi.json").json())
    headers = {"x-pulsewright-token": described.token}
    broken: list[str] = []
    seen = 0

    def send(case) -> None:
        nonlocal seen
        path = case.formatted_path.replace("\x00", "%00")
        sent = (("json", case.body), ("params", case.query))
        how: dict[str, Any] = {k: v for k, v in sent if isinstance(v, dict | list)}
        if "form" in (case.media_type or ""):
            body = how.pop("json", {})
            how["data"] = {k: str(v) for k, v in body.items()} if isinstance(body, dict) else {}
        answer = described.client.request(case.method, path, headers=headers, follow_redirects=False, **how)
        seen += 1
        if answer.status_code >= 500:
            broken.append(f"{case.method} {path} {how}")

    for result in schema.get_all_operations():
        operation: Any = result.ok()  # type: ignore[union-attr]
        if operation.path in LONG:
            continue
        run = given(case=operation.as_strategy())(send)
        quiet = settings(
            max_examples=EXAMPLES, deadline=None, database=None, derandomize=True, phases=[Phase.generate],
            suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
        )  # fmt: skip
        quiet(run)()
    assert seen > 80
    assert not broken


def test_the_description_holds_every_page(described: Screen, tmp_path: Path):
    paths = described.client.get("/openapi.json").json()["paths"]
    assert {"/", "/new", "/jobs/{job}", "/jobs/{job}/pulls", "/jobs/{job}/try.json", "/work/{work}.json"} <= set(paths)
