"""Lets a drawing of our own into the page as it is, and nothing that could act or call out."""

from __future__ import annotations

from xml.etree import ElementTree

from markupsafe import Markup

# What the drawings are made of; anything else (script, foreignObject, a, animate, ...) is turned away.
ELEMENTS = frozenset(
    ("svg", "g", "defs", "path", "rect", "line", "text", "tspan", "image", "use", "clipPath", "title", "desc")
)


def trusted_svg(drawing: str) -> Markup:
    """The drawing, marked as safe after a look at every element and attribute.

    Raises ValueError where it is no well-formed svg or holds more than a picture.
    """
    if not drawing.strip():
        return Markup("")
    if "<!" in drawing:
        raise ValueError("a drawing in the report must not declare anything")
    try:
        root = ElementTree.fromstring(drawing)
    except ElementTree.ParseError as error:
        raise ValueError(f"a drawing in the report is not well formed: {error}") from error
    for element in root.iter():
        _check(element)
    return Markup(drawing)


def _check(element: ElementTree.Element) -> None:
    name = _local(element.tag)
    if name not in ELEMENTS:
        raise ValueError(f"a drawing in the report must not hold <{name}>")
    for attribute, value in element.attrib.items():
        key, said = _local(attribute).lower(), value.strip().lower()
        if key.startswith("on"):
            raise ValueError(f"a drawing in the report must not act: {key}")
        if key == "href" and not said.startswith(("#", "data:image/png;base64,")):
            raise ValueError("a drawing in the report must not point outside")
        if "url(" in said and "url(#" not in said:
            raise ValueError("a drawing in the report must not point outside")


def _local(name: str) -> str:
    return name.rpartition("}")[2]
