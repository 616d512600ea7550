"""The DXF is read back with ezdxf, audited and measured."""

import io

import ezdxf
import numpy as np
import pytest

from parasim.config.loader import override
from parasim.drawing.dxf import dxf_text
from parasim.sewing.templates import sheet_drawings, sheet_key, templates


@pytest.fixture(scope="module")
def made(heron):
    return templates(heron)


@pytest.fixture(scope="module")
def document(made):
    drawings = sheet_drawings(made)
    return ezdxf.read(io.StringIO(dxf_text((*drawings, sheet_key(made, drawings)))))


def outlines(document, layer):
    found = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [(np.array(line.get_points("xy")), line.closed) for line in found]


def shoelace(points):
    x, y = points.T
    return 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def test_units_are_millimetres(document):
    assert document.header["$INSUNITS"] == 4
    assert not document.audit().has_errors


def test_closed_cut_lines_have_the_areas_of_the_pieces(made, document):
    areas = sorted(shoelace(points) for points, closed in outlines(document, "CUT_LINE") if closed)
    wanted = [shoelace(line) for piece in made.pieces for line in (piece.cut_line, *piece.holes)]
    assert areas == pytest.approx(sorted(wanted), rel=1e-6)


def test_sewing_lines_have_the_lengths_of_the_edges(made, document):
    lengths = [
        float(np.hypot(*np.diff(points, axis=0).T).sum())
        for layer in ("SEW_LINE", "FOLD_LINE")
        for points, _ in outlines(document, layer)
    ]
    for piece in made.pieces:
        for edge in piece.edges:
            if edge.allowance:
                assert min(abs(length - edge.length) for length in lengths) < 0.01


def test_check_bars(document):
    spans = [np.ptp(points[:, 0]) for points, closed in outlines(document, "CUT_LINE") if not closed]
    assert sorted(spans)[-2:] == pytest.approx([100.0, 101.6])


def test_layers_differ_by_line_type(document):
    layers = [layer for layer in document.layers if layer.dxf.name.endswith("_LINE")]
    assert len({layer.dxf.linetype for layer in layers}) == len(layers) == 5
    texts = document.modelspace().query("TEXT")
    assert {text.dxf.layer for text in texts} == {"LETTERING"}
    assert any("100 mm" in text.dxf.text for text in texts)


def test_names_in_any_letters(heron):
    """From AC1021 on a DXF is UTF-8, before it letters were written \\U+XXXX.

    Source: the published DXF reference, from memory, unverified.
    """
    made = templates(override(heron, {"name": "Möwe_鷺_é"}))
    text = dxf_text(sheet_drawings(made))
    lines = text.splitlines()
    assert lines[lines.index("$ACADVER") + 2] >= "AC1021"
    assert any(line.startswith("Möwe_鷺_é: ") for line in text.encode().decode("utf-8").splitlines())
    assert "\\U+" not in text
    read = ezdxf.read(io.StringIO(text)).modelspace().query("TEXT")
    assert any(entity.dxf.text.startswith("Möwe_鷺_é: ") for entity in read)
