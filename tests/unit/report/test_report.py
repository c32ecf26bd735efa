"""The customer's page: everything in it, in order; nothing fetched; every text escaped; gaps read well."""

import re
from dataclasses import fields, is_dataclass, replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from pulsewright.report import words
from pulsewright.report.story import Evidence, MeasuredCurve, Story, Tried
from pulsewright.report.trusted_svg import trusted_svg
from pulsewright.report.write import render_report, write_report

VERDICTS = (
    "exhaust wave", "intake wave", "mixture rich", "mixture lean", "fuel starvation", "restriction",
    "ignition", "engine", "measurement", "no hole", "cannot tell",
)  # fmt: skip
BARE = Story(machine="A machine", verdict="no hole")
PICTURE = '<svg xmlns="http://www.w3.org/2000/svg" aria-label="echo"><path id="echo-1" d="M0,0"/></svg>'
VOID = {"meta", "br", "img", "link", "input", "hr"}


class Page(HTMLParser):
    """Checks that elements close in order and gathers what the tests look at."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.headings: list[tuple[int, str]] = []
        self.ids: list[str] = []
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.ids += [value for name, value in attrs if name == "id" and value]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] in ("style", "title"):
            return
        if self.open and re.fullmatch(r"h\d", self.open[-1]):
            self.headings.append((int(self.open[-1][1]), data))
        self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


@pytest.fixture(scope="module")
def html(story):
    return render_report(replace(story, echo_svg=PICTURE))


def test_the_page_tells_everything_in_the_order_of_the_customer(html):
    chapters = [text for level, text in Page(html).headings if level == 2]
    keys = (
        "complaint",
        "finding",
        "picture",
        "cause",
        "proof",
        "next",
        "safety",
        "unknown",
        "conditions",
        "cautions",
    )
    assert chapters == [words.TEXT[f"{key}_heading"] for key in keys]


def test_headings_never_skip_a_level_and_ids_are_unique(html):
    page = Page(html)
    levels = [level for level, _ in page.headings]
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    assert len(page.ids) == len(set(page.ids))


def test_pictures_are_named_and_tables_have_headed_columns(html):
    page = Page(html)
    drawings = [attributes for tag, attributes in page.tags if tag == "svg"]
    assert all(a.get("aria-label") or a.get("aria-hidden") == "true" for a in drawings)
    assert all(a.get("scope") for tag, a in page.tags if tag == "th")


def test_nothing_is_fetched(html):
    page = Page(html)
    assert not {tag for tag, _ in page.tags} & {"script", "link", "img", "iframe", "object", "embed"}
    assert set(re.findall(r"https?://[\w./]+", html)) <= {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
    }
    assert not re.search(r"@import|url\((?!#)", html)


def test_it_prints_on_a4_and_knows_phone_and_dark(html):
    for rule in (
        "size: A4",
        "@media print",
        "max-width: 600px",
        "prefers-color-scheme: dark",
        "width=device-width",
    ):
        assert rule in html


def test_numbers_of_the_story_are_on_the_page(html):
    text = Page(html).text
    for wanted in (
        "bottom at 3\u202f050\u202frpm", "14\u202f% (12 to 16\u202f%)", "very likely (93\u202f%)",
        "+4.1\u202f% (+2.6 to +5.6)", "no difference that these pulls could show", "+0.05 (leaner)",
        "lambda 0.94 at 5\u202f200\u202frpm", "leaner than the limit of 0.92", "4th, about 1:1",
    ):  # fmt: skip
        assert re.sub(r"\s+", " ", wanted) in text


def test_every_caution_and_the_law_are_always_there():
    text = Page(render_report(BARE)).text
    assert all(line in text for line in words.CAUTIONS)
    assert words.LAW in text


def test_an_empty_story_reads_well():
    text = Page(render_report(BARE)).text
    for key in (
        "no_complaint",
        "no_curves",
        "nothing_tried",
        "no_evidence",
        "no_next",
        "no_leanest",
        "no_conditions",
    ):
        assert words.TEXT[key] in text
    assert "No hole was found" in text
    assert not re.search(r"\b(None|nan|inf)\b|\(\)|\{|\}", text)


def test_a_verdict_without_a_hole_says_that_there_is_none():
    text = Page(render_report(Story(machine="m", verdict="mixture rich"))).text
    assert words.TEXT["no_hole"] in text
    assert "too rich: look at the jets first" in text


def test_no_lambda_channel_is_said(story):
    bare = tuple(replace(curve, lambda_=()) for curve in story.curves)
    text = Page(render_report(replace(story, curves=bare, model=()))).text
    assert words.TEXT["no_lambda"] in text
    assert words.TEXT["no_lambda"] not in Page(render_report(story)).text


def test_arrays_and_gaps_are_taken(story):
    torque = np.where(np.arange(60) == 20, np.nan, 100.0)
    curve = MeasuredCurve(setup="A", role="before", rpm=np.linspace(2000, 4000, 60), torque=torque,
                          low=torque - 1, high=torque + 1, lambda_=np.full(60, np.nan))  # fmt: skip
    text = Page(render_report(replace(story, curves=(curve,), model=()))).text
    assert "nan" not in text
    assert "not measured" in text


BAD = "<script>alert('x')</script>\"'><b onmouseover=alert(1)>&amp;{{ 7*7 }}"


def poisoned(value: Any) -> Any:
    """The same story with every free text replaced; words that steer the page are left alone."""
    if isinstance(value, str):
        return BAD
    if isinstance(value, tuple):
        return tuple(poisoned(item) for item in value)
    if is_dataclass(value) and not isinstance(value, type):
        kept = {"role", "echo_svg", "echo_svg_narrow"}
        return replace(value, **{f.name: poisoned(getattr(value, f.name)) for f in fields(value) if f.name not in kept})
    return value


def test_hostile_text_in_any_field_stays_text(story):
    html = render_report(poisoned(replace(story, workshop="w")))
    page = Page(html)
    assert not {"script", "b"} & {tag for tag, _ in page.tags}
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on")]
    assert page.text.count("alert('x')") > 20
    assert "{{ 7*7 }}" in page.text


@pytest.mark.parametrize("verdict", VERDICTS)
def test_every_verdict_has_a_sentence_and_a_plain_cause(verdict, story):
    said = words.finding(replace(story, verdict=verdict, finding=""))
    assert said.endswith(".")
    assert "Verdict:" not in said
    assert words.cause(verdict)


def test_an_unknown_verdict_is_printed_as_it_is():
    assert words.finding(Story(machine="m", verdict="new {word}")) == "Verdict: new {word}."


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(0.1, 2.0, "better"), (-2.0, -0.1, "worse"), (-1.0, 1.0, "no difference that these pulls could show")],
)
def test_the_word_for_a_change_follows_its_interval(low, high, said):
    assert words.tried_verdict(Tried(setup="B", change="c", band_percent=0.5, low=low, high=high)) == said


def test_a_change_without_an_interval_is_not_judged():
    row = Tried(setup="B", change="c", band_percent=5.0)
    assert words.tried_verdict(row) == "not known"
    assert words.tried_band(row).endswith("no interval")


def test_evidence_says_both_sides():
    both = Evidence(what="w", supports="exhaust wave", against="mixture", weight=2.1)
    assert words.speaks(both) == "speaks for exhaust wave, against mixture, strong"
    assert words.speaks(Evidence(what="w", against="mixture", weight=0.3)) == "speaks against mixture, slight"
    assert words.speaks(Evidence(what="w")) == ""


def test_a_reading_that_cannot_be_trusted_is_not_called_safe(story):
    text = words.leanest(replace(story.leanest, trustworthy=False, value=0.88))
    assert "proves neither safe nor unsafe" in text


@pytest.mark.parametrize(
    "bad",
    [
        '<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>',
        '<svg xmlns="http://www.w3.org/2000/svg" onload="x()"/>',
        '<svg xmlns="http://www.w3.org/2000/svg"><foreignObject/></svg>',
        '<svg xmlns="http://www.w3.org/2000/svg"><image href="http://there/x.png"/></svg>',
        '<svg xmlns="http://www.w3.org/2000/svg"><path style="fill:url(http://there)"/></svg>',
        '<svg xmlns="http://www.w3.org/2000/svg"><style>*{}</style></svg>',
        '<!DOCTYPE svg [<!ENTITY a "b">]><svg xmlns="http://www.w3.org/2000/svg"/>',
        "<svg><path></svg>",
    ],
)
def test_a_drawing_that_could_act_or_call_out_is_refused(bad):
    with pytest.raises(ValueError, match="drawing in the report"):
        trusted_svg(bad)


def test_write_report_writes_one_file(tmp_path):
    path = write_report(BARE, tmp_path / "report.html")
    assert list(tmp_path.iterdir()) == [path]
    assert path.read_text(encoding="utf-8").startswith("<!doctype html>")
