"""`parasim glide` on the three demonstration designs: figures, documents, files, units, refusals."""

import csv
import io
import json
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

import pytest

from parasim.cli.main import main
from parasim.flight import glide as flight
from tests.texts import flowing

DESIGNS = ("heron", "wren", "pelican")

KEYS = {
    "parasim", "name", "mass_kg", "flat_area_m2", "flat_area_definition", "projected_area_m2",
    "wing_loading_n_m2", "reynolds", "rigging_angle_deg", "airspeed_m_s", "forward_speed_m_s", "sink_m_s",
    "glide_ratio", "glide_angle_deg", "alpha_deg", "pitch_deg", "stall_margin_deg", "tuck_margin_deg",
    "stall_alpha_deg", "lift_coefficient", "drag_coefficient", "bands", "bands_lost", "modes",
    "dynamically_stable", "other_trims", "brakes", "rigging", "rigging_window_deg", "window_reserves_deg",
    "rear_row_error", "hanging", "no_glide_fraction", "altitudes", "drag", "caveats",
}  # fmt: skip
BANDED = {
    "airspeed_m_s", "forward_speed_m_s", "sink_m_s", "glide_ratio", "glide_angle_deg", "alpha_deg",
    "pitch_deg", "stall_margin_deg", "tuck_margin_deg",
}  # fmt: skip
POINT = {
    "airspeed_m_s", "forward_speed_m_s", "sink_m_s", "glide_ratio", "alpha_deg", "stall_margin_deg",
    "tuck_margin_deg",
}  # fmt: skip
FILES = {
    "glide_polar.csv", "glide_rigging.csv", "glide_altitude.csv", "glide.json",
    "glide_polar.png", "glide_rigging.png", "drag.png",
}  # fmt: skip


@pytest.fixture(scope="module", autouse=True)
def _each_design_once() -> Iterator[None]:
    """Glides are kept by design, so that printing one again costs nothing."""
    kept: dict[str, flight.Glide] = {}
    real = flight.glide

    def remembered(vehicle: Any) -> flight.Glide:
        name = vehicle.design.name
        if name not in kept:
            kept[name] = real(vehicle)
        return kept[name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(flight, "glide", remembered)
        yield


@pytest.fixture(scope="module", params=DESIGNS)
def done(
    request: pytest.FixtureRequest, configs: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[dict[str, Any], Path]:
    """Document and directory of one run."""
    directory = tmp_path_factory.mktemp("out")
    with redirect_stdout(io.StringIO()) as out, redirect_stderr(io.StringIO()) as err:
        code = main(["glide", str(configs / f"{request.param}.yaml"), "--json", "--out", str(directory)])
    assert (code, err.getvalue()) == (0, "")
    return json.loads(out.getvalue()), directory


def test_document_has_the_keys_it_promises(done: tuple[dict[str, Any], Path]) -> None:
    document, _ = done
    assert set(document) == KEYS | {"warnings", "files"}
    assert set(document["bands"]) == BANDED
    for table in ("brakes", "rigging", "rear_row_error", "hanging", "altitudes"):
        assert set(document[table][0]) > POINT


def test_document_is_consistent(done: tuple[dict[str, Any], Path]) -> None:
    document, _ = done
    assert document["forward_speed_m_s"] / document["sink_m_s"] == pytest.approx(document["glide_ratio"])
    glide_angle = document["alpha_deg"] - document["pitch_deg"]
    assert document["glide_angle_deg"] == pytest.approx(glide_angle, abs=1e-5)
    for key in BANDED:
        band = document["bands"][key]
        assert band["low"] <= document[key] <= band["high"]
        assert sum(band["causes"].values()) == pytest.approx(1.0)
    brakes_released = document["brakes"][0]
    assert brakes_released["sink_m_s"] == pytest.approx(document["sink_m_s"], rel=2e-3)


def test_files_are_whole(done: tuple[dict[str, Any], Path]) -> None:
    document, directory = done
    written = {path.name: path for path in directory.iterdir()}
    named = {f"{document['name']}_{name}" for name in FILES}
    assert set(written) == named == {Path(name).name for name in document["files"]}
    for name, path in written.items():
        content = path.read_bytes()
        assert content.startswith(b"\x89PNG") if name.endswith(".png") else len(content) > 100
    saved = json.loads(written[f"{document['name']}_glide.json"].read_text())
    assert saved["sink_m_s"] == document["sink_m_s"]


def test_csv_repeats_the_document(done: tuple[dict[str, Any], Path]) -> None:
    document, directory = done
    for name, table in (("polar", "brakes"), ("rigging", "rigging"), ("altitude", "altitudes")):
        rows = list(
            csv.DictReader((directory / f"{document['name']}_glide_{name}.csv").read_text().splitlines())
        )
        assert list(rows[0]) == list(document[table][0])
        for row, point in zip(rows, document[table], strict=True):
            for key, value in point.items():
                expected = None if row[key] == "" else pytest.approx(float(row[key]), abs=1e-4)
                assert value == expected


@pytest.mark.parametrize(
    ("units", "labels"),
    [("metric", ("m/s", "m²", "N/m²", " mm")), ("imperial", ("ft/s", "ft²", "lbf/ft²", " in"))],
)
def test_text(units: str, labels: tuple[str, ...], configs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(configs / "heron.yaml")
    assert main(["glide", path, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert main(["glide", path, "--units", units]) == 0
    printed = capsys.readouterr()
    text = printed.out
    # 1 ft = 0.3048 m: by hand, 3.048 m/s is 10 ft/s.
    band, ends = document["bands"]["sink_m_s"], document["bands"]["glide_ratio"]
    size, digits, unit = (1.0, 2, "m/s") if units == "metric" else (0.3048, 1, "ft/s")
    sink, low, high = (f"{x / size:.{digits}f}" for x in (document["sink_m_s"], band["low"], band["high"]))
    ratio = f"{document['glide_ratio']:.1f} to 1 ({ends['low']:.1f} to {ends['high']:.1f})"
    line = f"heron glides {ratio} with the brakes released: sinks {sink} {unit} ({low} to {high} {unit})"
    assert flowing(text).startswith(line)
    assert "NOT KEPT" not in text  # heron keeps its margins and the sink of its file over its whole band
    assert all(label in text for label in labels)
    assert "bottom-skin span along the arc x mean chord" in text
    assert "positive nose-down" in text
    assert "Every small disturbance" in text or "UNSTABLE" in text
    said = flowing(printed.err)
    assert all(f"model: {caveat}" in said for caveat in document["caveats"] if "m/s" not in caveat)
    other = " m/s" if units == "imperial" else " ft"
    assert other not in text


def test_nothing_is_drawn_without_a_directory(configs: Path) -> None:
    from subprocess import run
    from sys import executable

    script = (
        "import sys; from parasim.cli.main import main; import parasim.flight.glide as flight\n"
        f"main(['glide', {str(configs / 'heron.yaml')!r}, '--help'])\n"
        "import parasim.cli.glide, parasim.report.glide\n"
        "print([name for name in ('matplotlib', 'pint') if name in sys.modules])"
    )
    done = run([executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
    assert "Example: parasim glide configs/heron.yaml" in done.stdout


def test_a_file_in_place_of_the_directory(
    configs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("")
    assert main(["glide", str(configs / "heron.yaml"), "--out", str(taken)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err == f"parasim: --out: {taken} is a file; give the name of a directory\n"
