"""Doors that a command can be left by other than the front: streams, signals, odd names, far limits."""

import os
import re
import signal
import struct
import subprocess
import sys
import time
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure

from parasim.cli import main as command_line
from parasim.config.wind_table import read_wind_table
from parasim.errors import DesignError, plain
from parasim.files import write_together
from parasim.geometry.coordinates import read_coordinates
from parasim.plotting.style import look, new_figure, picture_bytes

pytestmark = pytest.mark.slow

ROOT = Path(command_line.__file__).parents[2]
FULL = Path("/dev/full")
FILES = ["heron_lines.csv", "heron_lines.json"]
KINDS = ("design fails: ", "file lacks: ", "model: ", "  ")
"""How lines of warnings begin; the last where one goes on."""


def shell(script: str, where: Path, **variables: str) -> subprocess.CompletedProcess[str]:
    """Run a line of sh in which $P is parasim and $H a design."""
    environment = {
        **os.environ, "P": f"{sys.executable} -m parasim", "H": str(ROOT / "configs" / "heron.yaml"),
        "PYTHONPATH": str(ROOT), **variables,
    }  # fmt: skip
    return subprocess.run(
        ["sh", "-c", script], cwd=where, env=environment, capture_output=True, text=True, check=False
    )


@pytest.mark.skipif(os.name != "posix", reason="redirections of a POSIX shell")
@pytest.mark.parametrize(
    ("script", "code"),
    [
        ("$P lines $H --out D >&-", 0),
        ("$P lines $H --out D --json >&-", 0),
        ("$P lines $H --out D >/dev/null 2>&-", 0),
        ("$P lines $H --out D > /dev/full", 2),
        ("($P lines $H --out D; echo $? >code) | true; exit $(cat code)", 0),
    ],
)
def test_files_are_written_whoever_reads_the_text(script: str, code: int, tmp_path: Path) -> None:
    if "/dev/full" in script and not FULL.exists():
        pytest.skip("no /dev/full")
    done = shell(script, tmp_path)
    assert done.returncode == code
    assert {path.name for path in (tmp_path / "D").iterdir()} >= set(FILES)
    told = [line for line in done.stderr.splitlines() if not line.startswith(KINDS)]
    assert len(told) == (code == 2), told
    assert all(line.startswith("parasim: the text could not be printed (No space left") for line in told)


@pytest.mark.skipif(os.name != "posix", reason="redirections of a POSIX shell")
def test_help_and_mistakes_without_streams(tmp_path: Path) -> None:
    assert shell("$P --help >&-", tmp_path).returncode == 0
    assert shell("$P nowhere 2>&-", tmp_path).returncode == 2
    assert shell("$P nowhere >&- 2>&- <&-", tmp_path).returncode == 2


@pytest.mark.parametrize("backend", ["absurd", "module://not_installed.backend"])
def test_a_backend_meant_for_a_notebook(backend: str, tmp_path: Path) -> None:
    done = shell("$P canopy $H --out D", tmp_path, MPLBACKEND=backend)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "D" / "heron_canopy.png").is_file()


def pixels(picture: bytes) -> tuple[int, int]:
    """Width and height in the header of a PNG (ISO/IEC 15948, chunk IHDR)."""
    return struct.unpack(">II", picture[16:24])


def test_a_picture_stays_bounded() -> None:
    figure = new_figure(4.0, 3.0)
    figure.set_layout_engine("none")
    ax = figure.add_subplot()
    ax.plot([0, 1], [0, 1])
    ax.annotate("far", (0.5, 1e6), xycoords=("axes fraction", "data"))
    width, height = pixels(picture_bytes(figure, "png"))
    assert width <= 2 * 4.0 * 150
    assert height <= 2 * 3.0 * 150


def test_limits_far_outside_leave_the_curves_readable(tmp_path: Path, reference_text: str) -> None:
    from parasim.config.loader import parse_design
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.landing import landing
    from parasim.plotting.landing import landing_figure

    text = re.sub(r"(?m)^landing:\n(  .*\n)*", "", reference_text)
    text += "\nlanding:\n  max_ground_speed: 50 m/s\n  max_energy: 1e5 J\n"
    result = landing(assemble(parse_design(text)))
    figure = landing_figure(result)
    picture_bytes(figure, "png")
    speed, energy = figure.axes[0], figure.axes[-1]
    words = [text.get_text() for ax in figure.axes for text in ax.texts]
    assert sum("above the picture" in each for each in words) >= 2
    assert speed.get_ylim()[1] < 50
    assert energy.get_ylim()[1] < 1e4


def test_letters_that_the_font_lacks_are_question_marks() -> None:
    with look(), warnings.catch_warnings():
        warnings.simplefilter("error")
        figure: Figure = new_figure()
        title = figure.add_subplot().set_title("鷺: 2 m²\nα")
        for kind in ("png", "pdf", "svg"):
            picture_bytes(figure, kind)
    assert title.get_text() == "?: 2 m²\nα"


def test_a_name_in_other_letters(run: Any, reference_text: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every warning is an error in this suite, so that the libraries have nothing to say either."""
    Path("鷺.yaml").write_text(reference_text.replace("name: heron", "name: 鷺"), encoding="utf-8")
    for command in ("canopy", "templates", "build", "lines"):
        assert run(command, "鷺.yaml", "--out", "出") == 0
    printed = capsys.readouterr()
    assert "鷺" in printed.out
    assert all(line.startswith(KINDS) for line in printed.err.splitlines())
    assert "鷺" in Path("出/鷺_templates.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["heron", "dipper", "kingfisher", "pelican", "wren"])
@pytest.mark.parametrize("command", ["canopy", "drag", "glide", "servo", "flare", "landing"])
def test_libraries_have_nothing_to_warn_of(
    command: str, name: str, configs: Path, run: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The source, not the net: whatever a library warns of would be an error here."""

    def told(message: Warning | str, *_: object, **__: object) -> None:
        raise AssertionError(message)

    monkeypatch.setattr(command_line, "_show_warning", told)
    monkeypatch.setattr("logging.lastResort", None)
    assert run(command, configs / f"{name}.yaml", "--out", "out") == 0


def test_libraries_log_nothing_on_stderr(tmp_path: Path) -> None:
    """A directory that cannot be made sends matplotlib looking for another, which it logs."""
    code = (
        "import logging, sys; from parasim.cli.main import main; main(['--version'])\n"
        "logging.getLogger('matplotlib.font_manager').warning('findfont: no such font')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stderr == ""
    (tmp_path / "file").touch()
    done = shell("$P canopy $H --out D", tmp_path, MPLCONFIGDIR=str(tmp_path / "file" / "x"))
    assert done.returncode == 0
    assert all(line.startswith(KINDS) for line in done.stderr.splitlines()), done.stderr


@pytest.mark.parametrize("text", ["4_6", "1e308", "1e400", "inf", "nan", "0x10", "-1"])
def test_numbers_in_a_wind_table(text: str, tmp_path: Path) -> None:
    path = tmp_path / "wind.csv"
    path.write_text(f"height_m,speed_m_s,from_deg\n2,3,270\n20,{text},280\n")
    with pytest.raises(DesignError) as caught:
        read_wind_table(path)
    assert str(caught.value).startswith(f'wind.csv:3: speed_m_s: given "{text}", ')
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("text", ["4_6", "1e308", "-1e308", "inf", "nan"])
def test_numbers_in_a_file_of_coordinates(text: str, tmp_path: Path) -> None:
    path = tmp_path / "own.dat"
    path.write_text(f"title\n1 0\n0.5 {text}\n0 0\n")
    with pytest.raises(DesignError, match=rf"^own.dat:3: [^\n]*given '0.5 {text}', not two finite[^\n]*$"):
        read_coordinates(path)


def test_a_huge_file_of_coordinates_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "own.dat"
    with path.open("wb") as file:
        file.truncate(2_000_000_000)
    start = time.perf_counter()
    with pytest.raises(DesignError, match=r"^own.dat: [^\n]*larger than 256 kB; give the points[^\n]*$"):
        read_coordinates(path)
    assert time.perf_counter() - start < 1.0


@pytest.mark.parametrize(
    "arguments",
    [
        ["probe", ""],
        ["probe", "d.yaml", "--out", ""],
        ["probe", "d.yaml", "--out="],
        ["lines", "d.yaml", "--measured", " "],
        ["new", "lark", "--mass", "1 kg", "--sink", "3 m/s", "--out", ""],
    ],
)
def test_an_empty_path(
    arguments: list[str], run: Any, reference_text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("d.yaml").write_text(reference_text)
    assert run(*arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "no path" in printed.err
    assert printed.err.count("\n") == 1
    assert [path.name for path in Path().iterdir()] == ["d.yaml"]


def test_control_characters_are_shown_not_sent(
    run: Any, reference_text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plain("a\x1b[2J\u202e\n\u00e9") == r"a\x1b[2J\u202e\n" + "\u00e9"
    Path("d.yaml").write_text(reference_text)
    Path("key.yaml").write_text(reference_text + '"bad\\e[2J": 1\n')
    escape = "\x1b[2J\nb"
    Path(escape).touch()
    for arguments in (
        [escape],
        ["probe", escape + "c"],
        ["probe", "d.yaml", "--units", escape],
        ["probe", "d.yaml", f"--{escape}"],
        ["probe", "d.yaml", "--out", f"{escape}/x"],
        ["probe", "key.yaml"],
        ["drop", "d.yaml", "--wind", escape],
        ["drop", "d.yaml", "--brake", escape],
        ["drop", "d.yaml", "--velocity", escape],
        ["scatter", "d.yaml", "--at", escape],
        ["sweep", "d.yaml", "--vary", escape],
        ["sweep", "d.yaml", "--vary", "canopy.span=1..2 m", "--show", escape],
        ["sweep", "d.yaml", "--vary", "canopy.span=1..2 m", "--limit", escape],
        ["templates", "d.yaml", "--format", escape],
        ["lines", "d.yaml", "--measured", escape + "c"],
        ["new", escape, "--mass", "1 kg", "--sink", "3 m/s"],
    ):
        assert run(*arguments) == 2, arguments
        printed = capsys.readouterr()
        assert "\x1b" not in printed.out + printed.err, arguments
        assert re.search(r"\\(x|u00)1b", printed.err), (arguments, printed.err)
        assert printed.err.count("\n") == 1, printed.err
    assert run("probe", "d.yaml", "--out", "a\x1bb") == 0
    assert r"wrote a\x1bb/name.txt" in capsys.readouterr().out


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_interrupted_at_any_time(tmp_path: Path) -> None:
    """During imports, the calculation or the drawing: one line, and files all there or none."""
    command = [sys.executable, "-m", "parasim", "lines", str(ROOT / "configs" / "heron.yaml"), "--out", "D"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    for i, wait in enumerate(np.linspace(0.15, 1.5, 5)):
        where = tmp_path / str(i)
        where.mkdir()
        process = subprocess.Popen(
            command, cwd=where, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
        time.sleep(wait)
        process.send_signal(signal.SIGINT)
        told = [line for line in process.communicate()[1].splitlines() if not line.startswith(KINDS)]
        if process.returncode == 0:
            assert told == []
            assert len(list((where / "D").iterdir())) >= len(FILES)
            continue
        # Python itself ends by the signal, 130 to a shell, where it came within an exec().
        assert process.returncode in (130, -signal.SIGINT), told
        assert told == ["parasim: interrupted"]
        assert not (where / "D").exists()


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_interrupted_while_writing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.replace

    def interrupted(*names: Any) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        real(*names)

    monkeypatch.setattr(os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_together({tmp_path / name: b"new" for name in ("a", "b", "c")})
    assert {path.name for path in tmp_path.iterdir()} == {"a", "b", "c"}


def test_an_interruption_is_told(
    run: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(sys.modules["parasim.cli.probe"], "probe", interrupted)
    assert run("probe") == 130
    assert capsys.readouterr().err == "parasim: interrupted\n"


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize(("interrupted", "code"), [(True, 130), (False, 1)])
def test_an_interruption_that_arrives_as_another_error(interrupted: bool, code: int) -> None:
    """C code passes an interruption on as an error of its own: a schema not built, a module not imported."""
    script = f"""
import os, signal, sys
import parasim.cli.main
from parasim.__main__ import run

def fails():
    try:
        {interrupted} and os.kill(os.getpid(), signal.SIGINT)
    finally:
        raise SystemError("returned a result with an exception set")

parasim.cli.main.main = fails
signal.signal(signal.SIGINT, signal.default_int_handler)  # which a shell's background jobs begin without
sys.exit(run())
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == code
    assert (done.stderr == "parasim: interrupted\n") == interrupted


def test_short_help_is_help(run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("", *command_line.command_names()):
        texts = []
        for option in ("-h", "--help"):
            assert run(*([name] if name else []), option) == 0
            texts.append(capsys.readouterr().out)
        assert texts[0] == texts[1]


@pytest.mark.parametrize("name", ["bash", "zsh", "fish", "powershell"])
def test_completion_script(name: str, run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--show-completion", name) == 0
    assert f"_PARASIM_COMPLETE={name}" in capsys.readouterr().out.replace("complete_", "").replace(
        '$Env:_PARASIM_COMPLETE = "', "_PARASIM_COMPLETE="
    )


@pytest.mark.parametrize(
    ("line", "expected"), [("parasim gl", "glide"), ("parasim glide --un", "--units"), ("parasim s", "servo")]
)
def test_completion_answers_without_the_heavy_modules(line: str, expected: str) -> None:
    """Commands without numpy, options of one command without scipy and matplotlib."""
    heavy = ["scipy", "matplotlib", "numba"] + (["numpy"] if line.count(" ") == 1 else [])
    code = (
        "import sys\nfrom parasim.cli.main import main\nmain([])\n"
        f"found = set({heavy}) & set(sys.modules); assert not found, found"
    )
    variables = {
        "_PARASIM_COMPLETE": "complete_bash", "COMP_WORDS": line, "COMP_CWORD": str(line.count(" ")),
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env={**os.environ, **variables}, capture_output=True,
        text=True, check=True,
    )  # fmt: skip
    assert expected in done.stdout.split()
