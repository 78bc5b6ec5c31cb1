"""A picture as plain shapes, drawn the same way into a page (SVG) and onto paper (PDF).

Units are those of the drawing; y grows downwards. `kind` picks the look: a style class in a
page, a pen on paper. Nothing is told by colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from markupsafe import Markup, escape

from voicecheck.logbook.wording import clean

Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Line:
    """From one point to another."""

    x1: float
    y1: float
    x2: float
    y2: float
    kind: str


@dataclass(frozen=True, slots=True)
class Track:
    """Straight lines through points."""

    points: tuple[tuple[float, float], ...]
    kind: str


@dataclass(frozen=True, slots=True)
class Dot:
    """A value; label is its tooltip. marked: a hollow diamond instead of a filled circle."""

    x: float
    y: float
    label: str
    kind: str
    marked: bool = False


@dataclass(frozen=True, slots=True)
class Box:
    """A bar; label is its tooltip."""

    x: float
    y: float
    width: float
    height: float
    label: str
    kind: str


@dataclass(frozen=True, slots=True)
class Words:
    """Text at a point of its base line."""

    x: float
    y: float
    text: str
    kind: str
    anchor: Anchor = "start"


Shape = Line | Track | Dot | Box | Words


@dataclass(frozen=True, slots=True)
class Drawing:
    """title and text say in words what is shown."""

    width: float
    height: float
    title: str
    text: str
    shapes: tuple[Shape, ...]


def svg(drawing: Drawing, css: str = "") -> Markup:
    """The drawing as one SVG element; every text in it is escaped."""
    inner = Markup("\n").join(_shape(shape) for shape in drawing.shapes)
    return Markup(
        '<svg class="{css}" viewBox="0 0 {w:g} {h:g}" role="img" aria-label="{label}">\n'
        "<title>{title}</title>\n{inner}\n</svg>"
    ).format(
        css=css,
        w=drawing.width,
        h=drawing.height,
        label=clean(f"{drawing.title}. {drawing.text}"),
        title=clean(drawing.title),
        inner=inner,
    )


def _shape(shape: Shape) -> Markup:
    kind = Markup(' class="{}"').format(shape.kind)
    match shape:
        case Line():
            return Markup('<line{} x1="{:.1f}" y1="{:.1f}" x2="{:.1f}" y2="{:.1f}"/>').format(
                kind, shape.x1, shape.y1, shape.x2, shape.y2
            )
        case Track():
            points = " ".join(f"{x:.1f},{y:.1f}" for x, y in shape.points)
            return Markup('<polyline{} points="{}"/>').format(kind, points)
        case Dot():
            title = Markup("<title>{}</title>").format(clean(shape.label))
            if shape.marked:
                return Markup('<path{} d="M{:.1f} {:.1f}l5 5l-5 5l-5 -5z">{}</path>').format(
                    kind, shape.x, shape.y - 5, title
                )
            return Markup('<circle{} cx="{:.1f}" cy="{:.1f}" r="2.4">{}</circle>').format(
                kind, shape.x, shape.y, title
            )
        case Box():
            title = Markup("<title>{}</title>").format(clean(shape.label))
            return Markup(
                '<rect{} x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}">{}</rect>'
            ).format(kind, shape.x, shape.y, shape.width, shape.height, title)
        case Words():
            return Markup('<text{} x="{:.1f}" y="{:.1f}" text-anchor="{}">{}</text>').format(
                kind, shape.x, shape.y, shape.anchor, escape(clean(shape.text))
            )
