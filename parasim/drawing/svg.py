"""Drawings to SVG, one user unit a millimetre. Plain XML: the format is small."""

from collections.abc import Sequence
from math import degrees
from xml.etree import ElementTree as Xml

from parasim.drawing.drawing import Drawing, Label, Path
from parasim.drawing.layout import joined_box
from parasim.drawing.style import STYLES

MARGIN = 10.0
"""Round everything. [mm]"""

NAMESPACE = "http://www.w3.org/2000/svg"


def svg_text(drawings: Sequence[Drawing], *, title: str) -> str:
    """One SVG document, a group for each drawing; width and height in mm.

    Parameters
    ----------
    drawings : sequence of Drawing
        Placed as they are to stand.
    title : str
        Of the document.
    """
    box = joined_box(drawings)
    width, height = box.width + 2 * MARGIN, box.height + 2 * MARGIN
    root = Xml.Element(
        "svg",
        {
            "xmlns": NAMESPACE,
            "width": f"{width:.3f}mm",
            "height": f"{height:.3f}mm",
            "viewBox": f"0 0 {width:.3f} {height:.3f}",
            "fill": "none",
            "stroke": "black",
            "stroke-linejoin": "round",
            "font-family": "Helvetica, Arial, sans-serif",
        },
    )
    Xml.SubElement(root, "title").text = title
    for drawing in drawings:
        called = {"id": f"piece_{drawing.name.replace(' ', '_')}"} if drawing.name else {}
        group = Xml.SubElement(root, "g", {"class": "piece", **called})
        Xml.SubElement(group, "title").text = drawing.title
        moved = drawing.moved(MARGIN - box.left, MARGIN - box.bottom)
        for path in moved.paths:
            group.append(_path(path, height))
        for label in moved.labels:
            group.append(_text(label, height))
    Xml.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, encoding="unicode") + "\n"


def _path(path: Path, height: float) -> Xml.Element:
    style = STYLES[path.kind]
    points = " L ".join(f"{x:.3f} {height - y:.3f}" for x, y in path.points)
    attributes = {
        "class": path.kind,
        "d": f"M {points}" + (" Z" if path.closed else ""),
        "stroke-width": f"{style.width:g}",
    }
    if style.dash:
        attributes["stroke-dasharray"] = " ".join(f"{length:g}" for length in style.dash)
    return Xml.Element("path", attributes)


def _text(label: Label, height: float) -> Xml.Element:
    x, y = label.at[0], height - label.at[1]
    attributes = {
        "x": f"{x:.3f}",
        "y": f"{y:.3f}",
        "font-size": f"{label.height:g}",
        "text-anchor": label.anchor,
        "fill": "black",
        "stroke": "none",
    }
    if label.angle:
        attributes["transform"] = f"rotate({-degrees(label.angle):.3f} {x:.3f} {y:.3f})"
    element = Xml.Element("text", attributes)
    element.text = label.text
    return element
