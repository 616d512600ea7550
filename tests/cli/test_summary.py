"""`parasim summary`: one page, which needs nothing from outside and escapes what a user wrote."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from contextlib import redirect_stdout
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from parasim import beside
from parasim.cli.main import main
from parasim.flight.drop import CAUTIONS
from tests.conftest import CHROMIUM


class Page(HTMLParser):
    """Elements with their attributes, and the text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.fixture(scope="module")
def made(configs: Path, tmp_path_factory) -> dict[str, Path]:
    """Directory of heron in metric units, and of a file with markup in its name in imperial ones."""
    found = {name: tmp_path_factory.mktemp(name) for name in ("metric", "imperial")}
    with redirect_stdout(StringIO()) as said:
        assert main(["summary", str(configs / "heron.yaml"), "--out", str(found["metric"])]) == 0
    (found["metric"] / "said.txt").write_text(said.getvalue(), encoding="utf-8")
    text = (configs / "heron.yaml").read_text(encoding="utf-8")
    text = text.replace("max_sink: 4 m/s", "max_sink: 2.1 m/s")
    assert "max_sink: 2.1 m/s" in text
    design = found["imperial"] / "<script>.yaml"
    design.write_text(text, encoding="utf-8")
    assert main(["summary", str(design), "--out", str(found["imperial"]), "--units", "imperial"]) == 0
    return found


def html_of(directory: Path) -> str:
    (file,) = directory.glob("*_summary.html")
    return file.read_text(encoding="utf-8")


def document_of(directory: Path) -> dict:
    (file,) = directory.glob("*_summary.json")
    return json.loads(file.read_text(encoding="utf-8"))


def test_the_page_needs_nothing_from_outside(made: dict[str, Path]) -> None:
    text = html_of(made["metric"])
    page = Page(text)
    tags = {tag for tag, _ in page.elements}
    assert not tags & {"script", "link", "img", "iframe", "object"}
    for tag, attributes in page.elements:
        for name, value in attributes.items():
            if name.startswith("xmlns") or value is None:
                continue
            assert not re.match(r"(https?:)?//", value), (tag, name, value)
    assert not re.search(r"@import|url\((?!#)", text)


def test_links_lead_to_sections(made: dict[str, Path]) -> None:
    page = Page(html_of(made["metric"]))
    links = [attributes["href"] for tag, attributes in page.elements if tag == "a"]
    places = [f"#{attributes['id']}" for tag, attributes in page.elements if tag == "section"]
    assert links == places
    assert len(links) >= 8


def test_every_picture_has_words(made: dict[str, Path]) -> None:
    pictures = [attributes for tag, attributes in Page(html_of(made["metric"])).elements if tag == "svg"]
    assert len(pictures) >= 15
    assert all(each.get("role") == "img" and each.get("aria-label") for each in pictures)


def test_what_a_user_wrote_is_escaped(made: dict[str, Path]) -> None:
    text = html_of(made["imperial"])
    assert "<script" not in text
    assert "&lt;script&gt;.yaml" in text


def test_a_limit_within_the_band_may_not_be_kept(made: dict[str, Path]) -> None:
    """2.1 m/s lies in heron's band of sink, 1.78 to 2.20; with 4 m/s it is kept."""
    words = {
        name: {each["name"]: each["verdict"] for each in document_of(directory)["rulers"]}
        for name, directory in made.items()
    }
    assert words["metric"]["sink"] == "kept"
    assert words["imperial"]["sink"] == "may not be kept"
    assert "NOT KEPT: sink may be 7.2 ft/s (at most 6.9 ft/s)" in Page(html_of(made["imperial"])).words
    # 0.78 of the 2 that are wanted is farther off than 2.20 of 2.1 m/s
    assert document_of(made["imperial"])["first_to_fail"] == "tab at snatch, strength over load"


def test_what_every_command_calls_not_kept_is_in_the_summary(made: dict[str, Path]) -> None:
    """Heron's flare stalls in one case tried, and it may spiral: its own commands say so."""
    words = Page(html_of(made["metric"])).words
    assert 'found by single commands, listed as "Not kept, by command"' in words
    assert "flare: stalls in 1 of 7 cases tried" in words
    said = " ".join((made["metric"] / "said.txt").read_text(encoding="utf-8").split())
    assert "flare: stalls in 1 of 7 cases tried" in said
    assert "turn: may spiral from 62 % of one brake on" in said
    assert "opening: payload at snatch, margin at worst 0.9 (likely 2.7; 1 wanted)" in said
    assert "Wind over 4.9 m/s at 10 m above ground" in words
    assert "gliding, 87 m packed" in words
    names = [each["name"] for each in document_of(made["metric"])["rulers"]]
    assert "energy at touchdown, still air" in names


def test_ground_to_keep_clear_says_what_it_stands_on(made: dict[str, Path]) -> None:
    """Its figures are those of the card and of `parasim release` (tests/unit/flight/test_look_up.py)."""
    document = json.loads((made["metric"] / "heron_summary.json").read_text(encoding="utf-8"))
    radii = [row["radius_m"] for row in document["clear_ground"]]
    assert [row["wind_m_s"] for row in document["clear_ground"]] == [0.0, 2.0, 4.0, 6.0]
    said = " ".join((made["metric"] / "said.txt").read_text(encoding="utf-8").split())
    basis = (
        "as far as it can glide straight from 80 m, high end of the band, by the wind at 10 m above ground"
    )
    assert f"{basis}: {radii[0]:.0f} m in 0 m/s, {radii[1]:.0f} m in 2 m/s" in said


def test_imperial_page_has_no_metric_units(made: dict[str, Path]) -> None:
    page = html_of(made["imperial"])
    first = page[page.index("<main>") : page.index("</main>")]
    assert not re.findall(r"\d ?(?:m/s|mm|kg|N m|m²|J)\b", Page(first).words)
    assert "size: letter" in page


def test_cautions_are_on_every_part(made: dict[str, Path]) -> None:
    words = Page(html_of(made["metric"])).words
    assert words.count(CAUTIONS[0]) >= 6


def test_the_digest_is_of_the_design(made: dict[str, Path], configs: Path, capsys) -> None:
    digests = [document_of(directory)["digest"] for directory in made.values()]
    assert len(set(digests)) == 2
    assert digests[0] in Page(html_of(made["metric"])).words


def test_files_are_the_same_without_another_process(
    made: dict[str, Path], configs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(beside, "default_count", lambda: 1)
    with redirect_stdout(StringIO()):
        assert main(["summary", str(configs / "heron.yaml"), "--out", str(tmp_path)]) == 0
    names = sorted(path.name for path in tmp_path.iterdir())
    assert len(names) == 4
    for name in names:
        assert (tmp_path / name).read_bytes() == (made["metric"] / name).read_bytes(), name


@pytest.mark.parametrize("cores", [1, 2])
def test_a_mistake_is_told_as_by_one_process(
    cores: int, configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch
) -> None:
    """Rigged far forward it has no glide, which half of the parts would tell in their own words."""
    monkeypatch.setattr(beside, "default_count", lambda: cores)
    text = (configs / "heron.yaml").read_text(encoding="utf-8")
    design = tmp_path / "forward.yaml"
    design.write_text(re.sub(r"rigging_angle: \S+ deg", "rigging_angle: 15 deg", text), encoding="utf-8")
    assert main(["summary", str(design), "--out", str(tmp_path / "D")]) == 2
    said = capsys.readouterr().err.splitlines()
    assert said == [line for line in said if line.startswith("parasim: heron: no stable steady glide")]
    assert not (tmp_path / "D").exists()


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("wait", [0.4, 1.2, 3.0])
def test_interrupted(wait: float, configs: Path, tmp_path: Path) -> None:
    """One line, no file, and no other process that still holds what it writes to."""
    command = [sys.executable, "-m", "parasim", "summary", str(configs / "heron.yaml"), "--out", "D"]
    with subprocess.Popen(
        command, cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        # Tests that run in a shell's background ignore an interruption, and so would what they start.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as process:  # fmt: skip
        time.sleep(wait)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=30)
    # Python itself ends by the signal, 130 to a shell, where it came within an exec().
    assert process.returncode in (130, -signal.SIGINT)
    assert said == "parasim: interrupted\n"
    assert not (tmp_path / "D").exists()


@pytest.fixture(scope="module")
def printed(made: dict[str, Path], tmp_path_factory) -> dict[str, Path]:
    """The pages as a browser prints them."""
    if CHROMIUM is None:
        pytest.skip("no Chromium here: what it looks like in print is not seen")
    found = {units: tmp_path_factory.mktemp("printed") / f"{units}.pdf" for units in made}
    for units, pdf in found.items():
        (file,) = made[units].glob("*_summary.html")
        subprocess.run(
            [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
             f"--print-to-pdf={pdf}", file.as_uri()],
            check=True, capture_output=True, timeout=120,
        )  # fmt: skip
    return found


@pytest.mark.parametrize(("units", "size"), [("metric", (595, 842)), ("imperial", (612, 792))])
def test_printed_it_fits_one_page(printed: dict[str, Path], units: str, size: tuple) -> None:
    """A4 or letter: the first page ends with the cautions, the second begins with the glide."""
    pages = pypdfium2.PdfDocument(printed[units])
    assert pages[0].get_size() == pytest.approx(size, abs=1)
    first, second = (" ".join(pages[i].get_textpage().get_text_bounded().split()) for i in (0, 1))
    assert CAUTIONS[-1] in first
    assert second.startswith("Glide")
    pages.close()


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_no_printed_page_is_nearly_empty(printed: dict[str, Path], units: str) -> None:
    """Ink reaches down a third of every page, and two thirds of them on the average."""
    pages = pypdfium2.PdfDocument(printed[units])
    filled = []
    for page in pages:
        ink = np.array(page.render(scale=0.5).to_pil().convert("L")) < 200
        filled.append(np.flatnonzero(ink.any(axis=1)).max() / len(ink))
    pages.close()
    assert min(filled) > 0.33
    assert np.mean(filled) > 0.66
