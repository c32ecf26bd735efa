"""What the screen says stands in `web/words.py` (of figures in `figures/words.py`), so that it can be translated."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

WEB = Path(__file__).resolve().parents[2] / "src" / "pulsewright" / "web"
SENTENCE = re.compile(r"[A-Za-z]{2,} [A-Za-z]{2,}")  # two words in a row
SAYS = ("tell", "say")  # calls that a person reads, with what raises an error
JINJA = re.compile(r"{%.*?%}|{{.*?}}|{#.*?#}", re.DOTALL)
READ = re.compile(r'\b(?:aria-label|title|placeholder|alt)="([^"]*)"')  # attributes that a person reads or hears
TAG = re.compile(r"<(?:[^<>\"]|\"[^\"]*\")*>", re.DOTALL)
SAME_IN_EVERY_TONGUE = {"rpm", "pulsewright", "kPa", "min"}


def spoken(source: str) -> Iterator[str]:
    """Every literal with two words in a row that a call raises or says."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if not name.endswith("Error") and name not in SAYS:
            continue
        for part in ast.walk(ast.Module([ast.Expr(a) for a in (*node.args, *(k.value for k in node.keywords))], [])):
            if isinstance(part, ast.Constant) and isinstance(part.value, str) and SENTENCE.search(part.value):
                yield part.value


def bare_words(template: str) -> list[str]:
    """Words between tags, and in attributes that are read, that come from no variable."""
    plain = JINJA.sub(" ", template)
    text = [*READ.findall(plain), TAG.sub(" ", plain)]
    return [
        w for w in re.findall(r"[A-Za-z]{3,}", re.sub(r"&#?\w+;", " ", " ".join(text))) if w not in SAME_IN_EVERY_TONGUE
    ]


@pytest.mark.parametrize("path", [p for p in sorted(WEB.glob("*.py")) if p.name != "words.py"], ids=lambda p: p.stem)
def test_no_module_of_the_screen_says_a_sentence_of_its_own(path: Path):
    assert list(spoken(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("path", sorted((WEB / "templates").glob("*.j2")), ids=lambda p: p.name.partition(".")[0])
def test_no_template_holds_words(path: Path):
    assert bare_words(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", sorted((WEB / "static").glob("*.js")), ids=lambda p: p.stem)
def test_no_script_holds_words(path: Path):
    """Text of an element, and what is read aloud, comes with the page."""
    source = path.read_text(encoding="utf-8")
    given = re.findall(r'(?:text: |textContent = |"aria-(?:label|valuetext)"[:,] )(["`])(.*?)\1', source)
    assert [text for _, text in given if re.search(r"[A-Za-z]{4,}", re.sub(r"\$\{.*?\}|\\u\w{4}", " ", text))] == []


def test_the_looks_find_what_they_look_for():
    assert set(spoken('raise InputError(f"no {x} of this", hint="try again")')) == {" of this", "try again"}
    assert bare_words('<p class="to know">{{ t.x }} Save it <a aria-label="Open {{ y }}">') == ["Open", "Save"]
