"""What a picture is: a drawing, the same in words, and the numbers behind it as a table."""

from typing import Final, NamedTuple

from cfgaudit.pictures.svg import Drawing, element, number, words

WIDTH: Final = 440.0  # of every drawing: small enough to be read on a telephone


class Table(NamedTuple):
    """The numbers behind a picture, as text: a head and rows as long as it."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class Picture(NamedTuple):
    """One picture. `says` tells in words what it shows, `notes` what is to be known besides."""

    name: str
    title: str
    says: str
    drawing: Drawing
    table: Table
    notes: tuple[str, ...] = ()


class Missing(NamedTuple):
    """A picture that can't be drawn, and the settings that it lacks."""

    name: str
    title: str
    lacks: tuple[str, ...]


def as_svg(picture: Picture, prefix: str = "") -> str:
    """The picture as one SVG element; `prefix` keeps its ids apart from another one's."""
    name = f"{prefix}{picture.name}"
    width, height, body = picture.drawing
    title = element("title", "", words(picture.title), id=f"{name}-title")
    says = element("desc", "", words(picture.says), id=f"{name}-desc")
    return element(
        "svg",
        "picture",
        title + says + body,
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
    )
