"""The command line itself: help, version, output, exit codes."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from parasim.cli import main as command_line
from parasim.cli.output import Output, as_json
from parasim.cli.progress import counted, working
from parasim.errors import OutputError
from parasim.files import write_together
from parasim.report.column import aligned, csv_text


def test_help_and_version(run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in ([], ["--help"]):
        assert run(*arguments) == 0
        assert "new" in capsys.readouterr().out
    assert run("--version") == 0
    assert capsys.readouterr().out == "parasim 0.1.0\n"


def test_every_command_has_a_summary_and_an_example(run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    for name in command_line.command_names():
        if name == "probe":
            continue
        assert run(name, "--help") == 0
        text = capsys.readouterr().out
        assert f"Example: parasim {name} " in " ".join(text.split()), name


def test_unknown_command_and_option(run: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("nwe") == 2
    assert "No such command 'nwe'" in capsys.readouterr().err
    assert run("probe", "--outt", "x") == 2
    assert "--outt" in capsys.readouterr().err


def test_interruption(run: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupted() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(sys.modules["parasim.cli.probe"], "probe", interrupted)
    assert run("probe") == 130
    assert "Traceback" not in capsys.readouterr().err


def test_help_needs_no_heavy_library() -> None:
    code = (
        "import sys; from parasim.cli.main import main; main(['--help'])\n"
        "heavy = {'scipy', 'matplotlib', 'pint'} & set(sys.modules); assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL)


def test_a_terminal_without_superscripts(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "parasim", "new", "lark", "--mass", "1 kg", "--sink", "2.2 m/s"]
    root = Path(command_line.__file__).parents[2]
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONPATH": str(root)}
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, check=True)
    assert re.search(rb"flat area\s0\.\d{3} m\?", done.stdout)
    assert done.stderr == b""


def test_text_output(
    run: Any, reference_text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "d.yaml").write_text(reference_text.replace("mass: 1.2 kg", "mass: 2.2 kg"))
    assert run("probe", "d.yaml", "--out", "a/b") == 0
    printed = capsys.readouterr()
    assert printed.out == "name  heron\nwrote a/b/name.txt\n"
    assert printed.err.startswith("model: wing loading by the payload alone: 39.2 N/m² is over")
    assert Path("a/b/name.txt").read_text() == "heron"


def test_json_output(
    run: Any, reference_text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "d.yaml").write_text(reference_text.replace("mass: 1.2 kg", "mass: 2.2 kg"))
    assert run("probe", "d.yaml", "--json") == 0
    printed = capsys.readouterr()
    answer = json.loads(printed.out)
    assert answer["parasim"] == {"command": "probe", "version": "0.1.0", "design": "d.yaml"}
    assert answer["name"] == "heron"
    assert len(answer["warnings"]) == 1
    assert printed.err == ""


def test_out_must_not_be_a_file(run: Any, reference_text: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("d.yaml").write_text(reference_text)
    assert run("probe", "d.yaml", "--out", "d.yaml/x") == 2
    assert capsys.readouterr().err == "parasim: --out: d.yaml is a file; give the name of a directory\n"


def test_a_failed_write_leaves_the_old_file_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "x.txt"
    write_together({target: b"old"})
    monkeypatch.setattr(
        os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device"))
    )
    with pytest.raises(OutputError, match="No space left on device"):
        write_together({target: b"new"})
    assert target.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["x.txt"]


@pytest.mark.parametrize("how", ["full disk", "a directory in the way"])
def test_files_of_a_command_are_all_new_or_all_old(
    how: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a.txt", "b.txt"):
        (tmp_path / name).write_text("old")
    output = Output(command="probe", directory=tmp_path)
    for name in ("a.txt", "b.txt", "c.txt"):
        output.add(name, f"new {name}")
    if how == "full disk":
        opened, real = [], os.fdopen

        def full(handle: int, *arguments: Any) -> Any:
            opened.append(handle)
            if len(opened) == 3:
                os.close(handle)
                raise OSError(28, "No space left on device")
            return real(handle, *arguments)

        monkeypatch.setattr(os, "fdopen", full)
        told = r"c\.txt cannot be written \(No space left on device\)"
    else:
        (tmp_path / "c.txt").mkdir()
        told = r"c\.txt cannot be written \(a directory of that name is in the way\)"
    with pytest.raises(OutputError, match=told):
        output.finish({})
    assert {path.name for path in tmp_path.iterdir() if path.is_file()} == {"a.txt", "b.txt"}
    assert (tmp_path / "a.txt").read_text() == (tmp_path / "b.txt").read_text() == "old"


def test_files_are_csv_json_and_figures(tmp_path: Path) -> None:
    from matplotlib.figure import Figure

    output = Output(command="probe", design="d", directory=tmp_path, as_json=True)
    output.add("t.csv", csv_text(["time_s", "sink_m_s"], np.array([[0.0, 1.5], [1.0, 2.5]])))
    output.add_json("t.json", {"sink_m_s": np.float64(2.5), "path": np.array([[1.0, np.nan]])})
    output.add_figure("t.png", Figure())
    output.finish({})
    assert (tmp_path / "t.csv").read_text() == "time_s,sink_m_s\n0.0,1.5\n1.0,2.5\n"
    written = json.loads((tmp_path / "t.json").read_text())
    assert written["path"] == [[1.0, None]]
    assert written["parasim"]["command"] == "probe"
    assert (tmp_path / "t.png").read_bytes().startswith(b"\x89PNG")


def test_a_warning_is_said_once() -> None:
    output = Output(command="probe")
    output.warn("a")
    output.warn("a")
    assert output.warnings == ["a"]


def test_tables_line_up() -> None:
    text = aligned([["sink", "3.1"], ["glide ratio", "12.55"]], heads=["what", "value"], title="Glide")
    assert text.splitlines() == [
        "Glide",
        "what         value",
        "-----------  -----",
        "sink           3.1",
        "glide ratio  12.55",
    ]
    assert aligned([]) == ""
    assert aligned([["a"], ["b", 1]]) == "a\nb  1"


def test_json_holds_no_infinity() -> None:
    assert json.loads(as_json({"a": float("inf"), "b": (1, True, None), "c": Path("x")})) == {
        "a": None,
        "b": [1, True, None],
        "c": "x",
    }


def test_progress_is_silent_away_from_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    with working("thinking"):
        assert list(counted([1, 2, 3], "counting")) == [1, 2, 3]
    assert capsys.readouterr().err == ""


def test_an_option_that_was_meant_otherwise_is_named(
    run: Any, configs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A drop "from 80 m" is its height; a command that has no such option is not said to have it."""
    assert run("drop", configs / "heron.yaml", "--from", "80 m") == 2
    assert "No such option: --from (Possible options: --height, --wind-from); try" in capsys.readouterr().err
    assert run("glide", configs / "heron.yaml", "--from", "80 m") == 2
    assert "No such option: --from; try: parasim glide --help" in capsys.readouterr().err


def test_quiet_leaves_the_answer_what_fails_and_the_caution(
    run: Any, configs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the model cannot and the file lacks is said without --quiet, and in the JSON document with it."""
    assert run("opening", configs / "heron.yaml", "--quiet") == 0
    printed = capsys.readouterr()
    assert printed.out.startswith("heron, packed ")
    said = [line for line in printed.err.splitlines() if not line.startswith(" ")]
    assert said[:-1]
    assert all(line.startswith("design fails: ") for line in said[:-1])
    assert said[-1].startswith("caution: Computed, not flown. A falling payload can injure people")
    assert run("opening", configs / "heron.yaml", "--quiet", "--json") == 0
    assert any(" slack" in warning for warning in json.loads(capsys.readouterr().out)["warnings"])
