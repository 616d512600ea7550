"""The footprint for maps: RFC 7946 and OGC KML 2.2, read back by libraries that know them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import fastkml
import geojson as geojson_library
import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from lxml import etree
from shapely.geometry import Point, shape

from parasim.config.design import Design
from parasim.config.loader import override
from parasim.flight.drop import CAUTIONS
from parasim.report.landing_map import MapError, geojson, kml
from parasim.scatter.scatter import Scatter
from tests.unit.scatter.test_scatter import scattered

HERE = (47.1, 11.2)
SCHEMA = Path(fastkml.__file__).parent / "schema" / "ogckml22.xsd"
KML = "{http://www.opengis.net/kml/2.2}"


@pytest.fixture(scope="module")
def scatter(heron: Design) -> Scatter:
    placed = {"site.position": list(HERE), "scatter.target": {"north": "10 m", "east": "-140 m"}}
    return scattered(override(heron, placed), drops=1000)


@pytest.fixture(scope="module")
def document(scatter: Scatter) -> dict[str, Any]:
    return json.loads(geojson(scatter))


def feature(document: dict[str, Any], name: str) -> dict[str, Any]:
    return next(each for each in document["features"] if each["properties"]["name"] == name)


def rings(document: dict[str, Any]) -> list[tuple[bool, list[Any]]]:
    """Every ring, and whether it is an outer one."""
    found = []
    for each in document["features"]:
        geometry = each["geometry"]
        if geometry["type"] == "Polygon":
            found += [(i == 0, ring) for i, ring in enumerate(geometry["coordinates"])]
        if geometry["type"] == "MultiPolygon":
            found += [(i == 0, ring) for part in geometry["coordinates"] for i, ring in enumerate(part)]
    return found


def test_a_library_finds_it_valid(document: dict[str, Any]) -> None:
    parsed = geojson_library.loads(json.dumps(document))
    assert isinstance(parsed, geojson_library.FeatureCollection)
    assert parsed.is_valid, parsed.errors()
    names = [each["properties"]["name"] for each in document["features"]]
    assert names[:3] == ["99 % of landings", "90 % of landings", "50 % of landings"]
    assert {"nominal release", "advised release", "target", "landings, opened"} <= set(names)
    assert document["cautions"] == list(CAUTIONS)


def test_rings_follow_section_3_1_6(document: dict[str, Any]) -> None:
    """RFC 7946, 3.1.6: four or more positions, first and last the same, outer rings anticlockwise."""
    found = rings(document)
    assert len(found) >= 3
    for outer, ring in found:
        assert len(ring) >= 4
        assert ring[0] == ring[-1]
        x, y = np.array(ring).T
        area = np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2
        assert (area > 0) == outer


def test_positions_are_longitude_first_with_seven_decimals(document: dict[str, Any]) -> None:
    """RFC 7946, 3.1.1 and 4: longitude, latitude in degrees on WGS 84; no other reference system (4)."""
    spot = feature(document, "nominal release")["geometry"]["coordinates"]
    assert spot == [11.2, 47.1]
    assert "crs" not in document
    for _, ring in rings(document):
        for pair in ring:
            assert len(pair) == 2
            assert [round(x, 7) for x in pair] == pair
            assert pair == pytest.approx([11.2, 47.1], abs=0.01)


def test_places_are_where_geodesics_put_them(scatter: Scatter, document: dict[str, Any]) -> None:
    lon, lat = feature(document, "target")["geometry"]["coordinates"]
    found = Geodesic.WGS84.Inverse(*HERE, lat, lon)
    assert found["s12"] == pytest.approx(np.hypot(10, 140), abs=0.02)
    assert found["azi1"] % 360 == pytest.approx(np.degrees(np.arctan2(-140, 10)) % 360, abs=0.01)
    landed = scatter.landed.select(scatter.landed.outcome == 0)
    spots = feature(document, "landings, opened")["geometry"]["coordinates"]
    assert len(spots) == len(landed)
    for i in (0, len(spots) // 2, len(spots) - 1):
        truth = Geodesic.WGS84.Direct(*HERE, np.degrees(np.arctan2(landed.east[i], landed.north[i])),
                                      np.hypot(landed.east[i], landed.north[i]))  # fmt: skip
        assert spots[i] == pytest.approx([truth["lon2"], truth["lat2"]], abs=3e-7)


def test_regions_on_the_map_hold_their_landings(scatter: Scatter, document: dict[str, Any]) -> None:
    spots = [
        spot
        for each in document["features"]
        if each["geometry"]["type"] == "MultiPoint"
        for spot in each["geometry"]["coordinates"]
    ]
    assert len(spots) == len(scatter.landed)
    for percent in (50, 90, 99):
        region = feature(document, f"{percent} % of landings")
        area = shape(region["geometry"])
        held = np.mean([area.contains(Point(spot)) for spot in spots])
        assert 100 * held == pytest.approx(region["properties"]["held_percent"], abs=0.3)


def test_kml_follows_its_schema(scatter: Scatter) -> None:
    """Against the schema of OGC KML 2.2, which the library fastkml carries."""
    tree = etree.fromstring(kml(scatter).encode())
    schema = etree.XMLSchema(etree.parse(str(SCHEMA)))
    assert schema.validate(tree), schema.error_log
    assert tree.tag == f"{KML}kml"
    styles = {each.get("id") for each in tree.iter(f"{KML}Style")}
    used = {each.text.removeprefix("#") for each in tree.iter(f"{KML}styleUrl")}
    assert used <= styles


def test_kml_tells_the_same_as_geojson(scatter: Scatter, document: dict[str, Any]) -> None:
    parsed = fastkml.KML.from_string(kml(scatter).partition("?>")[2])
    (inner,) = parsed.features
    marks = {mark.name: mark for mark in inner.features}
    assert set(marks) == {each["properties"]["name"] for each in document["features"]}
    release = marks["nominal release"].geometry
    assert (release.x, release.y) == pytest.approx((11.2, 47.1), abs=1e-9)
    assert all(caution in inner.description for caution in CAUTIONS)
    region = shape(marks["90 % of landings"].geometry.__geo_interface__)
    assert region.area == pytest.approx(
        shape(feature(document, "90 % of landings")["geometry"]).area, rel=1e-6
    )


def moved(scatter: Scatter, **site: Any) -> Scatter:
    vehicle = scatter.vehicle
    design = override(vehicle.design, {f"site.{key}": value for key, value in site.items()})
    return replace(scatter, vehicle=replace(vehicle, design=design))


def test_no_position_no_map(scatter: Scatter) -> None:
    with pytest.raises(MapError, match=r"no position: add site\.position or --at"):
        geojson(moved(scatter, position=None))


@pytest.mark.parametrize(("place", "told"), [((0, 180), "crosses 180 deg"), ((85, 10), "latitude")])
def test_places_that_do_not_do(scatter: Scatter, place: tuple[float, float], told: str) -> None:
    for write in (geojson, kml):
        with pytest.raises(MapError, match=told):
            write(moved(scatter, position=list(place)))
