"""What the difference view is given: any two setups, in the units of one browser."""

import pytest
from tests.unit.web.conftest import Screen

from pulsewright.demo.copy_session import SESSION
from pulsewright.web.measures import POUND_FOOT


def asked(screen: Screen, job: int, **pair: str) -> dict:
    answer = screen.client.get(f"/jobs/{job}/difference.json", params=pair)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_the_last_setup_less_the_baseline_where_none_is_named(screen: Screen):
    found = asked(screen, screen.example())
    assert (found["first"], found["second"]) == ("A", "C")
    assert [c["name"] for c in found["curves"]] == ["A", "C"]
    assert "C makes" in found["text"]
    assert found["hole"][0] < found["hole"][2] < found["hole"][1]


def test_any_pair_the_other_way_round_is_the_opposite(screen: Screen):
    job = screen.example()
    there, back = asked(screen, job, first="B", second="C"), asked(screen, job, first="C", second="B")
    pairs = [(a, b) for a, b in zip(there["difference"]["torque"], back["difference"]["torque"], strict=True) if a]
    assert len(pairs) > 40
    assert max(abs(a + b) for a, b in pairs) < 0.1 * max(abs(a) for a, _ in pairs)
    assert there["difference"]["lambda"] == [v and -v for v in back["difference"]["lambda"]]


def test_torque_and_mixture_come_in_the_chosen_units(screen: Screen):
    job = screen.example()
    metric = asked(screen, job)
    screen.client.cookies.set("pw_view", "torque=lbf%C2%B7ft&mixture=AFR&decimal=comma")
    other = asked(screen, job)
    assert (other["torqueUnit"], other["mixtureUnit"], other["comma"]) == ("lbf·ft", "AFR", True)
    for name in ("torque", "low", "high"):
        old, new = metric["difference"]["trend"][name], other["difference"]["trend"][name]
        assert new == pytest.approx([v / POUND_FOOT for v in old], rel=1e-4), name
    ratio = [b / a for a, b in zip(metric["difference"]["lambda"], other["difference"]["lambda"], strict=True) if a]
    assert ratio == pytest.approx([ratio[0]] * len(ratio), rel=1e-3)
    assert 14.0 < ratio[0] < 15.0
    text = screen.client.get(f"/jobs/{job}/pulls").text
    assert "torque, C \u2212 A, lbf·ft" in text
    assert "AFR, C \u2212 A" in text


def test_a_name_without_pulls_is_said(screen: Screen):
    job = screen.example()
    answer = screen.client.get(f"/jobs/{job}/pulls", params={"first": "A", "second": "<b>"})
    assert answer.status_code == 400
    assert "no pulls of a setup" in answer.text
    assert "<b>" not in answer.text
    assert screen.client.get(f"/jobs/{job}/difference.json", params={"first": "A", "second": "A"}).status_code == 400


def test_one_setup_alone_has_no_difference(screen: Screen):
    sheet = (SESSION / "setup.toml").read_bytes()
    screen.post("/new/sheet", {"machine": "test"}, files={"sheet": ("setup.toml", sheet)})
    job = screen.store.jobs()[0].id
    first = SESSION / "pulls" / "01.csv"
    screen.post(f"/jobs/{job}/pulls", {"setup": "A"}, files=[("files", (first.name, first.read_bytes()))])
    assert 'id="difference"' not in screen.client.get(f"/jobs/{job}/pulls").text
    answer = screen.client.get(f"/jobs/{job}/difference.json")
    assert answer.status_code == 400
    assert "Only one setup" in answer.json()["what"]
