"""Pages of the build sheet, read back and rendered by an independent library."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest

from parasim.ladder.build_page import BOX, Pages, build_pdf
from parasim.ladder.checklists import checklists
from parasim.ladder.ladder import Limits, ladder
from parasim.sewing.order.build_order import build_order
from tests.unit.ladder.test_ladder import NUMBERS
from tests.unit.sewing.test_build_order import job_of

DPI = 150
MM = DPI / 25.4
SIZES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""ISO 216; 8.5 x 11 in. From memory, unverified."""


@pytest.fixture(scope="module")
def pages(heron) -> Pages:
    job = job_of(heron)
    return Pages(
        name=heron.name,
        facts=("A fact.",),
        steps=build_order(job),
        rungs=ladder(NUMBERS, Limits(sink=4.0), pack="bag", steered=True, system="metric"),
        checklists=checklists(job, NUMBERS, "heron.yaml"),
        cautions=("Falling loads hurt.",),
        caveats=("A caveat.",),
        system="metric",
    )


@pytest.fixture(scope="module", params=SIZES)
def made(request, pages) -> tuple[str, pypdfium2.PdfDocument]:
    return request.param, pypdfium2.PdfDocument(build_pdf(pages, request.param))


def text_of(document: pypdfium2.PdfDocument) -> str:
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    return " ".join(text.split())


def test_paper(made):
    paper, document = made
    for page in document:
        assert [side / 72 * 25.4 for side in page.get_size()] == pytest.approx(SIZES[paper], abs=0.01)


def test_every_page_has_its_number_and_how_many_there_are(made):
    _, document = made
    assert 5 <= len(document) <= 14
    for number, page in enumerate(document, start=1):
        text = page.get_textpage().get_text_range()
        assert f"page {number} of {len(document)}" in text
        assert "heron: build sheet" in text
        assert len(text) > 200, "a page with nothing but its foot"


def test_everything_is_on_the_pages(made, pages):
    """Every step, detail, join, figure, rung, and item, and its expected value in the cell behind it."""
    text = text_of(made[1])
    said = [*pages.facts, *pages.cautions, *pages.caveats]
    for number, step in enumerate(pages.steps, start=1):
        said += [f"{number}. {step.title}", *step.details, *(f"By hand: {words}" for words in step.by_hand)]
        said += [join.name for join in step.joins]
    for rung in pages.rungs:
        said += [rung.title, *rung.do, *rung.measure, *rung.stop]
    for checklist in pages.checklists:
        said += [checklist.title.lower(), *checklist.items]
    squeezed = text.replace(" ", "")
    missing = [words for words in said if words.replace(" ", "") not in squeezed]
    assert missing == []
    figures = [f for part in (*pages.steps, *pages.rungs) for f in part.figures]
    unread = [f.name for f in figures if f"{f.name} {f.shown('metric')}".replace(" ", "") not in squeezed]
    assert unread == []


def test_cautions_stand_ahead_of_order_ladder_and_checklists(made):
    assert text_of(made[1]).count("Caution: Falling loads hurt.") == 3


@pytest.mark.parametrize("caveats", [1, 12, 40])
@pytest.mark.parametrize("paper", SIZES)
def test_no_page_is_nearly_empty(pages, paper, caveats):
    """Every page is filled to two fifths at least, however many caveats stand at the end."""
    told = tuple(f"A caveat, the one of number {i}." for i in range(caveats))
    document = pypdfium2.PdfDocument(build_pdf(replace(pages, caveats=told), paper))
    for page in document:
        ink = np.array(page.render(scale=DPI / 72).to_pil().convert("L")) < 128
        above_foot = ink[: round((SIZES[paper][1] - 22) * MM)]
        assert np.flatnonzero(above_foot.any(axis=1)).max() > 0.4 * len(ink)


def test_boxes_are_drawn(made):
    """At the left margin stands a square box to tick of its size for every step that begins on the page."""
    page = made[1][0]
    ink = np.array(page.render(scale=DPI / 72).to_pil().convert("L")) < 128
    strip = ink[:, round(13 * MM) : round(22 * MM)]
    rows = [i for i, row in enumerate(strip) if longest(row) >= round((BOX - 0.4) * MM)]
    edges = [i for i in rows if i - 1 not in rows]
    heights = [(b - a) / MM for a, b in pairwise(edges)]
    boxes = sum(abs(height - BOX) < 0.3 for height in heights)
    text = page.get_textpage().get_text_range()
    assert boxes == len(re.findall(r"^\d+\. [A-Z]", text, re.MULTILINE)) >= 2


def longest(row: np.ndarray) -> int:
    ends = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return int((ends[1::2] - ends[::2]).max(initial=0))


def test_nothing_is_printed_in_the_margins(made):
    paper, document = made
    width, height = SIZES[paper]
    for page in document:
        ink = np.array(page.render(scale=DPI / 72).to_pil().convert("L")) < 128
        down, across = np.nonzero(ink)
        assert across.min() / MM > 12
        assert across.max() / MM < width - 12
        assert down.min() / MM > 12
        assert down.max() / MM < height - 8


def test_twice_the_same(pages):
    assert build_pdf(pages, "a4") == build_pdf(pages, "a4")
