"""The footprint of a scatter for maps: GeoJSON after RFC 7946, and KML 2.2."""

import json
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from parasim.environment.position import latitude_longitude
from parasim.errors import OutOfRangeError
from parasim.flight.drop import CAUTIONS
from parasim.rotations import FloatArray
from parasim.scatter.members import OUTCOMES
from parasim.scatter.scatter import Scatter

DIGITS = 7
"""Decimals of a degree: 11 mm."""

KML = "http://www.opengis.net/kml/2.2"

STYLES: dict[str, dict[str, Any]] = {
    "region 50": {"line": ("ff4e4e1f", "3"), "fill": "60794e1f"},
    "region 90": {"line": ("ff794e1f", "2"), "fill": "40794e1f"},
    "region 99": {"line": ("ff794e1f", "1"), "fill": "20794e1f"},
    "release": {"icon": "ff262626"},
    "target": {"icon": "ff1b45b5"},
    "landings": {"icon": "ff377a3d"},
}
"""Colours as aabbggrr, line widths in pixels."""

Ring = list[list[float]]


class MapError(Exception):
    """The footprint cannot be put on a map, for the reason given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A thing on the map.

    Attributes
    ----------
    name : str
        In words.
    style : str
        A key of `STYLES`.
    kind : str
        Point, MultiPoint, Polygon or MultiPolygon.
    coordinates : list
        Longitude first, as GeoJSON has them. [deg]
    properties : dict
        Figures, with the unit in the key.
    """

    name: str
    style: str
    kind: str
    coordinates: list[Any]
    properties: dict[str, Any]


def shapes(scatter: Scatter) -> list[Shape]:
    """Regions, landings, release and target on the map, largest region first.

    Raises
    ------
    MapError
        If the site has no position, lies too near a pole, or the footprint is too wide or crosses 180 deg.
    """
    position = scatter.vehicle.design.site.position
    if position is None:
        raise MapError("the site has no position: add site.position or --at")

    def degrees(north: FloatArray, east: FloatArray) -> Ring:
        try:
            phi, lam = latitude_longitude(north, east, latitude=position[0], longitude=position[1])
        except OutOfRangeError as error:
            raise MapError(str(error)) from None
        if len(lam) and np.ptp(lam) > np.pi:
            raise MapError("the footprint crosses 180 deg of longitude")
        pairs = np.degrees(np.column_stack([lam, phi])).round(DIGITS) + 0.0
        return [[float(x), float(y)] for x, y in pairs]

    def place(name: str, style: str, north: float, east: float) -> Shape:
        spot = degrees(np.array([north]), np.array([east]))[0]
        return Shape(name=name, style=style, kind="Point", coordinates=spot, properties={})

    found = _regions(scatter, degrees) + _landings(scatter, degrees)
    found.append(place("nominal release", "release", 0.0, 0.0))
    if scatter.advice is not None:
        target = scatter.advice.target
        found.append(place("target", "target", target.north, target.east))
        found.append(place("advised release", "release", *scatter.advice.release))
    return found


def _regions(scatter: Scatter, degrees: Callable[[FloatArray, FloatArray], Ring]) -> list[Shape]:
    if scatter.footprint is None:
        return []
    found = []
    for region in reversed(scatter.footprint.regions):
        polygons = [
            [_closed(degrees(ring[:, 1], ring[:, 0])) for ring in polygon] for polygon in region.polygons
        ]
        percent = round(100 * region.level)
        found.append(
            Shape(
                name=f"{percent} % of landings",
                style=f"region {percent}",
                kind="Polygon" if len(polygons) == 1 else "MultiPolygon",
                coordinates=polygons[0] if len(polygons) == 1 else polygons,
                properties={
                    "level_percent": percent,
                    "held_percent": round(100 * region.held, 2),
                    "area_m2": round(region.area, 1),
                },
            )
        )
    return found


def _landings(scatter: Scatter, degrees: Callable[[FloatArray, FloatArray], Ring]) -> list[Shape]:
    landed, found = scatter.landed, []
    for outcome, words in enumerate(OUTCOMES):
        those = landed.select(landed.outcome == outcome)
        if len(those):
            found.append(
                Shape(
                    name=f"landings, {words}",
                    style="landings",
                    kind="MultiPoint",
                    coordinates=degrees(those.north, those.east),
                    properties={"branch": words, "count": len(those)},
                )
            )
    return found


def _closed(ring: Ring) -> Ring:
    return ring if ring[0] == ring[-1] else [*ring, ring[0]]


def geojson(scatter: Scatter) -> str:
    """The footprint as GeoJSON.

    Notes
    -----
    Longitude and latitude on WGS 84; rings closed, outer ones anticlockwise, holes clockwise, as RFC 7946
    section 3.1.6 has it. Cautions stand in a foreign member, which section 6.1 allows.

    Raises
    ------
    MapError
        As in `shapes`.
    """
    features = [
        {
            "type": "Feature",
            "properties": {"name": shape.name, **shape.properties},
            "geometry": {"type": shape.kind, "coordinates": shape.coordinates},
        }
        for shape in shapes(scatter)
    ]
    return json.dumps(
        {"type": "FeatureCollection", "features": features, "cautions": list(CAUTIONS)}, allow_nan=False
    )


def kml(scatter: Scatter) -> str:
    """The footprint as KML.

    Raises
    ------
    MapError
        As in `shapes`.
    """
    ElementTree.register_namespace("", KML)
    root = ElementTree.Element(f"{{{KML}}}kml")
    document = _under(root, "Document")
    _under(document, "name", f"{scatter.vehicle.design.name}, {len(scatter.members)} drops")
    _under(document, "description", "\n".join(CAUTIONS))
    for name, style in STYLES.items():
        _style(document, name.replace(" ", "_"), style)
    for shape in shapes(scatter):
        mark = _under(document, "Placemark")
        _under(mark, "name", shape.name)
        if shape.properties:
            given = "\n".join(f"{key}: {value}" for key, value in shape.properties.items())
            _under(mark, "description", given)
        _under(mark, "styleUrl", "#" + shape.style.replace(" ", "_"))
        _geometry(mark, shape)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True).decode() + "\n"


def _under(parent: ElementTree.Element, tag: str, text: str | None = None) -> ElementTree.Element:
    element = ElementTree.SubElement(parent, f"{{{KML}}}{tag}")
    element.text = text
    return element


def _style(document: ElementTree.Element, name: str, style: dict[str, Any]) -> None:
    element = _under(document, "Style")
    element.set("id", name)
    if "icon" in style:
        icon = _under(element, "IconStyle")
        _under(icon, "color", style["icon"])
        _under(icon, "scale", "0.6" if name == "landings" else "1.1")
        return
    line = _under(element, "LineStyle")
    _under(line, "color", style["line"][0])
    _under(line, "width", style["line"][1])
    _under(_under(element, "PolyStyle"), "color", style["fill"])


def _geometry(mark: ElementTree.Element, shape: Shape) -> None:
    match shape.kind:
        case "Point":
            _point(mark, shape.coordinates)
        case "MultiPoint":
            together = _under(mark, "MultiGeometry")
            for pair in shape.coordinates:
                _point(together, pair)
        case "Polygon":
            _polygon(mark, shape.coordinates)
        case _:
            together = _under(mark, "MultiGeometry")
            for rings in shape.coordinates:
                _polygon(together, rings)


def _point(parent: ElementTree.Element, pair: Sequence[float]) -> None:
    _under(_under(parent, "Point"), "coordinates", _tuple(pair))


def _polygon(parent: ElementTree.Element, rings: Sequence[Ring]) -> None:
    polygon = _under(parent, "Polygon")
    for i, ring in enumerate(rings):
        boundary = _under(polygon, "innerBoundaryIs" if i else "outerBoundaryIs")
        _under(_under(boundary, "LinearRing"), "coordinates", " ".join(_tuple(pair) for pair in ring))


def _tuple(pair: Sequence[float]) -> str:
    return f"{pair[0]:.{DIGITS}f},{pair[1]:.{DIGITS}f}"
