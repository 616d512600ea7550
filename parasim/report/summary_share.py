"""The part of a summary that another process does meanwhile: with its pictures half of all the work.

It imports no more than that needs.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from parasim.answer import Answer
from parasim.config.design import Design
from parasim.dynamics.vehicle import Vehicle, assemble
from parasim.flight.glide import glide
from parasim.making.cut import cut
from parasim.units import System

PARTS: Mapping[str, Callable[[Vehicle], Answer]] = {"glide": glide, "cut": cut}
"""What it works out, by the names that `parasim.making.summary` has for them."""

SECTIONS = {"Glide": "glide", "Cloth": "cut"}
"""Sections whose pictures it draws, and the part of each; it draws the dimensioned drawing too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """Pictures of a summary.

    Attributes
    ----------
    sections : mapping of str to list of str
        SVG elements by the title of their section.
    views : str
        Dimensioned drawing as an SVG element.
    file : bytes or None
        The same as a file of its own, if it is drawn already.
    """

    sections: Mapping[str, list[str]] = field(default_factory=dict)
    views: str = ""
    file: bytes | None = None


def section_pictures(title: str, answer: Answer, units: System) -> list[str]:
    """Figures of a section as SVG elements."""
    from parasim.plotting.style import svg_element

    return [
        svg_element(figure, f"{title}: {name.removesuffix('.png').replace('_', ' ')}", salt=name)
        for name, figure in answer.report.figures(units)
        if name.endswith(".png")
    ]


def views_picture(vehicle: Vehicle, units: System) -> str:
    """Dimensioned drawing as an SVG element."""
    from parasim.plotting.style import svg_element
    from parasim.plotting.views import views_figure

    words = f"{vehicle.design.name} from ahead, the left and above, with sizes"
    return svg_element(views_figure(vehicle, units), words, salt="views")


def share(design: Design, units: System, pictures: bool) -> Iterator[Any]:
    """Parts, and then their pictures if they are wanted."""
    vehicle = assemble(design)
    parts = {name: work(vehicle) for name, work in PARTS.items()}
    yield parts
    if not pictures:
        return
    from parasim.plotting.style import picture_bytes
    from parasim.plotting.views import views_figure

    yield Pictures(
        sections={title: section_pictures(title, parts[name], units) for title, name in SECTIONS.items()},
        views=views_picture(vehicle, units),
        file=picture_bytes(views_figure(vehicle, units), "png"),
    )
