"""Keep the generated parts of README and of the manual's pages in step with what the program says today.

    python scripts/readme_tables.py              write them anew
    python scripts/readme_tables.py --check      say which are stale, change nothing
    python scripts/readme_tables.py --speed      measure the speeds as well; wants a quiet machine

A generated part stands between ``<!-- begin NAME -->`` and ``<!-- end NAME -->``. Two texts count as the same
when they differ only by one unit in the last printed digit of a number: another linear-algebra library may
round the other way. Speeds are never stale: they belong to the machine that is named beside them.
"""

from __future__ import annotations

import argparse
import csv
import io
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from importlib import import_module
from math import pi
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))
README = ROOT / "README.md"
PAGES = sorted((ROOT / "parasim/manual/pages").glob("*.md"))
TEXTS = [README, *PAGES]
"""Files that hold generated parts."""
HERON = "configs/heron.yaml"
BLOCK = re.compile(r"(<!-- begin (?P<name>[\w ]+) -->\n)(?P<text>.*?)(<!-- end (?P=name) -->)", re.DOTALL)
WHAT_IS_IN = {
    ".json": "the document that `--json` prints",
    ".png": "a picture",
    ".pdf": "to print",
    ".svg": "to print or cut",
    ".dxf": "for a cutter",
    ".txt": "text",
    ".md": "Markdown with boxes to tick",
    ".html": "to print or to read in a browser; nothing in it comes from the network",
    ".geojson": "for maps: regions, landings, release and target, in longitude and latitude",
    ".kml": "for maps: the same",
    ".yaml": "a design, segments or notes: to fill in, to correct or to hand on",
}
NO_FILES = {"adjust", "new", "manual"}
"""Commands that take no design, or answer on a page."""
FLOWN = "tests/data/flown.yaml"
LOG = "configs/heron_log.csv"
"""A log, for the command that takes no design."""
WANTED = {
    "learn": [FLOWN],
    "scatter": ["--drops", "300", "--at", "47.1, 11.2"],
    "size": ["--sink", "2.5 m/s"],
    "sweep": ["--vary", "canopy.span=0.9..1.4 m", "--points", "2"],
    "track": ["--design", HERON],
    "trouble": ["turns left"],
}
"""What a command must be reported besides the design."""
NUMBER = re.compile(r"\d+(?:\.\d+)?(?:e[+-]\d+)?")


def printed(*arguments: str) -> str:
    """What a command prints on stdout."""
    from parasim.cli.main import main

    out = io.StringIO()
    with redirect_stdout(out), redirect_stderr(io.StringIO()):
        code = main(list(arguments))
    if code != 0:
        raise SystemExit(f"parasim {' '.join(arguments)} ended with exit code {code}")
    return out.getvalue()


def fenced(text: str, language: str = "text") -> str:
    """Text as a code block of Markdown."""
    return f"```{language}\n{text.rstrip()}\n```\n"


def markdown(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Rows as a table of Markdown."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "".join("| " + " | ".join(cells) + " |\n" for cells in lines)


def design_file() -> str:
    """The heron file, as it is."""
    return fenced((ROOT / HERON).read_text(encoding="utf-8"), "yaml")


def glide_output() -> str:
    """The beginning of the glide."""
    text = printed("glide", HERON)
    return fenced(text[: text.index("\nA band holds ")])


def whole_glide() -> str:
    """The glide, without the two tables after the rigging window."""
    text = printed("glide", HERON)
    return fenced(text[: text.index("\nAn error of ")])


def drop_output() -> str:
    """Where README's first command lands it, and how."""
    text = printed("drop", HERON, "--height", "60", "--wind", "3")
    head, table = text[: text.index("\n\n")], text[text.index("touchdown ") : text.index("\ncaution: ")]
    return fenced(f"{head}\n\n{table}")


def whole_drop() -> str:
    """The drop of README's first command."""
    return fenced(printed("drop", HERON, "--height", "60", "--wind", "3"))


def way_down() -> str:
    """The table of a drop from high up."""
    text = printed("drop", HERON, "--height", "30 km", "--brake", "3 m: L 0.93 R 0.93 over 1.6 s")
    start = text.index("On the way down")
    return fenced(text[start : text.index("\n\n", start)] + "\n")


def drag_output() -> str:
    """The drag build-up."""
    return fenced(printed("drag", HERON))


def servo_to_landing() -> str:
    """The first tables of servo, turn, flare and landing, one after the other."""
    parts = {
        "servo": "\narm ",
        "turn": "\nEvery brake turns",
        "flare": "\nThe same flare",
        "landing": "\nLimits of",
    }
    told = []
    for command, end in parts.items():
        text = printed(command, HERON)
        told.append(f"$ parasim {command} {HERON}\n{text[: text.index(end)].rstrip()}\n")
    return fenced("\n".join(told))


def trouble_output() -> str:
    """What may turn heron, without what to do about it."""
    text = printed("trouble", HERON, "turns left 2 deg/s")
    return fenced(text[: text.index("\n3. ")])


def release_output() -> str:
    """Where to let heron go, its reach and its plan."""
    text = printed("release", HERON)
    return fenced(text[: text.index("\nLet it go facing")])


def cut_output() -> str:
    """The cut list without its parts and lengths."""
    text = printed("cut", HERON)
    first = text[: text.index("\nParts, ")]
    shopping = text[text.index("\nTo buy, ") : text.index("\nline and tape ")]
    masses = text[text.index("\nmass of ") : text.index("\ncaution: ")]
    return fenced(first.rstrip() + "\n" + shopping.rstrip() + "\n" + masses)


def build_output() -> str:
    """Of the build sheet: how the skin is closed, and the balcony rung."""
    text = printed("build", HERON)
    sewing = text[text.index("[ ] 11.") : text.index("[ ] 15.")]
    balcony = text[text.index("Test ladder: Balcony") : text.index("\nTest ladder: Drop from 20 m")]
    return fenced(f"$ parasim build {HERON}\n...\n{sewing.rstrip()}\n...\n{balcony}")


def scatter_output() -> str:
    """A thousand drops, without the inputs."""
    text = printed("scatter", HERON, "--drops", "1000", "--target", "0 m, -120 m")
    return fenced(text[: text.index("\ninput ")])


def notes_file() -> str:
    """Notes on two invented flights, as they are."""
    return fenced((ROOT / FLOWN).read_text(encoding="utf-8"), "yaml")


def learn_sheet() -> str:
    """What to measure first, without the checklists."""
    text = printed("learn", HERON)
    return fenced(text[: text.index("\nMeasured once ")])


def learn_output() -> str:
    """What two flights tell, without the cautions."""
    return fenced(printed("learn", HERON, FLOWN).partition("\ncaution: ")[0])


def sweep_output() -> str:
    """A sweep of one key, and the best under limits, without the cautions."""
    span = ("--vary", "canopy.span=0.9..1.4 m")
    ranges = (*span, "--vary", "lines.rigging_angle=2..8 deg")
    told = []
    for options in (
        (*span, "--points", "6", "--show", "sink,glide,landing_energy,tuck_margin"),
        (
            *ranges,
            "--minimum",
            "landing_energy",
            "--limit",
            "area<=0.6 m^2",
            "--limit",
            "stall_margin>=16 deg",
        ),
    ):
        shown = " ".join(f'"{word}"' if re.search(r"[ <>]", word) else word for word in options)
        text = printed("sweep", HERON, *options).partition("\ncaution: ")[0].rstrip()
        told.append(f"$ parasim sweep {HERON} {shown}\n{text}\n")
    return fenced("\n".join(told))


def outputs() -> str:
    """Outputs that a sweep can show, limit or make best."""
    from parasim.study.outputs import OUTPUTS
    from parasim.units import label

    rows = [
        [f"`{one.name}`", one.words, label(one.kind), "yes" if one.slow else ""] for one in OUTPUTS.values()
    ]
    return markdown(["output", "what it is", "unit", "slow"], rows)


def commands() -> str:
    """Every command and the first line of its help."""
    from parasim.cli.main import command_names

    rows = []
    for name in command_names():
        text = getattr(import_module(f"parasim.cli.{name}"), name).__doc__
        what, _, example = text.partition("Example: ")
        rows.append([f"`parasim {name}`", " ".join(what.split()), f"`{' '.join(example.split())}`"])
    return markdown(["command", "what it answers", "example"], rows)


def files() -> str:
    """Files that the commands write, with the heads of the CSV files."""
    from parasim.cli.main import command_names

    rows = []
    for command in command_names():
        if command in NO_FILES:
            continue
        with tempfile.TemporaryDirectory() as out:
            given = LOG if command == "track" else HERON
            printed(command, given, *WANTED.get(command, []), "--out", out)
            rows += file_rows(command, Path(out))
    return markdown(["file", "written by", "what is in it"], rows)


def file_rows(command: str, directory: Path) -> list[list[str]]:
    """Rows of that table for the files that a command left in a directory, NAME for that of the design."""
    names = {
        path: re.sub(r"^(heron_log|heron|pelican)_", "NAME_", path.name)
        for path in sorted(directory.iterdir())
    }
    return [[f"`{name}`", f"`parasim {command}`", contents(path)] for path, name in names.items()]


def contents(path: Path) -> str:
    """Of a file, in words."""
    if path.suffix == ".csv":
        with path.open(newline="", encoding="utf-8") as file:
            return ", ".join(f"`{head}`" for head in next(csv.reader(file)))
    return WHAT_IS_IN[path.suffix]


def python_code() -> str:
    """README's own example of Python."""
    found = re.search(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    if found is None:
        raise SystemExit("README.md: no block of Python")
    return found[1]


def python_output() -> str:
    """What README's Python prints, run as a script of its own."""
    done = subprocess.run(
        [sys.executable, "-c", python_code()],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    if done.returncode != 0:
        raise SystemExit(f"README.md: the Python fails\n{done.stderr}")
    return fenced(done.stdout)


def tunnel() -> str:
    """A rigid arced wing in a tunnel against our strips, nothing calibrated."""
    import numpy as np

    from tests.validation.tunnel_wing import LIFTS, computed, measured

    ours, theirs = computed(), measured()

    def row(name: str, computed: float, measured: float, digits: int, *, degrees: bool = False) -> list[str]:
        off = f"{computed - measured:+.1f} deg" if degrees else f"{100 * (computed / measured - 1):+.0f} %"
        return [name, f"{measured:.{digits}f}", f"{computed:.{digits}f}", off]

    rows = [row("lift slope on flat area, per rad", ours.line[0], theirs.line[0], 2)]
    rows += [
        row(
            "angle of attack without lift, deg", *np.degrees([ours.line[1], theirs.line[1]]), 2, degrees=True
        ),
        row("minimum drag coefficient", ours.CD.min(), theirs.CD.min(), 4),
    ]
    rows += [
        row(f"drag coefficient at lift coefficient {lift}", ours.drag_at(lift), theirs.drag_at(lift), 4)
        for lift in LIFTS[::2]
    ]
    rows += [
        row("greatest lift coefficient", ours.stall[0], theirs.stall[0], 2),
        row("angle of attack there, deg", *np.degrees([ours.stall[1], theirs.stall[1]]), 1, degrees=True),
        row("side force by sideslip, per rad", ours.side_force_slope, theirs.side_force_slope, 3),
    ]
    return markdown(["rigid arced wing", "tunnel", "computed", "difference"], rows)


def theory() -> str:
    """Pieces of the model against theory and recorded solutions."""
    from parasim.environment.atmosphere import Atmosphere
    from parasim.mass.air import thin_arc_mass
    from tests.validation import potential_flow_plate as plate
    from tests.validation.test_elliptic_wing import ellipse
    from tests.validation.test_lifting_surface import WINGS, rectangle
    from tests.validation.wings import lift_slope

    def row(name: str, wanted: float, found: float, digits: int, source: str) -> list[str]:
        return [
            name,
            f"{wanted:.{digits}f}",
            f"{found:.{digits}f}",
            f"{100 * (found / wanted - 1):+.1f} %",
            source,
        ]

    def slope_of(aspect: int, wanted: float, source: str) -> list[str]:
        name = f"lift slope, flat plate of aspect ratio {aspect}, per rad"
        return row(name, wanted, lift_slope(rectangle(aspect), area=aspect), 3, source)

    recorded = WINGS["rectangle_3"]["derivatives_at_alpha_deg"]["0"]["CL_alpha"]
    strips, area = ellipse(20)
    size = {"span": 1.1, "chord": 0.5, "arc_radius": 0.75}
    exact = 1.225 * plate.apparent_mass(plate.rectangle(**size), n_chord=16, n_span=24)
    ours = 1.225 * thin_arc_mass(
        span=size["span"], root_chord=size["chord"], taper=1.0, arc_radius=size["arc_radius"]
    )
    slope, flow = lift_slope(strips, area=area), "potential flow, solved numerically"
    rows = [
        slope_of(1, 1.460, "lifting-surface theory, from memory"),
        slope_of(2, 2.474, "lifting-surface theory, from memory"),
        slope_of(3, recorded, "recorded vortex lattice of another program"),
        row(
            "lift slope, ellipse of aspect ratio 20, per rad",
            2 * pi / 1.1,
            slope,
            3,
            "Prandtl's lifting line",
        ),
        row("air density at 1 km, kg/m³", 1.1117, Atmosphere().density(1e3), 4, "ISO 2533, by tape measure"),
        row("air density at 30 km, kg/m³", 0.018410, Atmosphere().density(30e3), 6, "the same"),
        row("apparent mass of a thin arced plate, upright, kg", exact[2, 2], ours[2, 2], 4, flow),
        row("apparent mass of a thin arced plate, sideways, kg", exact[1, 1], ours[1, 1], 4, flow),
    ]
    return markdown(["piece", "wanted", "computed", "difference", "against"], rows)


def speed() -> str:
    """Times and memory on this machine, by scripts/benchmark.py."""
    from scripts.benchmark import measure

    return measure(5) + "\n"


LOOSE = {"scatter output": 0.03, "sweep output": 0.03}
"""Blocks in which a number may move by a part of itself: members that spiral, and a search, carry the last
digit of another machine's arithmetic on to the first."""

BLOCKS: dict[str, Callable[[], str]] = {
    "design file": design_file,
    "glide output": glide_output,
    "whole glide": whole_glide,
    "whole drop": whole_drop,
    "way down": way_down,
    "drop output": drop_output,
    "drag output": drag_output,
    "servo to landing": servo_to_landing,
    "learn sheet": learn_sheet,
    "notes file": notes_file,
    "learn output": learn_output,
    "trouble output": trouble_output,
    "scatter output": scatter_output,
    "release output": release_output,
    "cut output": cut_output,
    "build output": build_output,
    "sweep output": sweep_output,
    "outputs": outputs,
    "commands": commands,
    "files": files,
    "python output": python_output,
    "tunnel": tunnel,
    "theory": theory,
}


def same(one: str, other: str, part: float = 0.0) -> bool:
    """Whether two texts agree but for one unit in the last digit of their numbers, or a part of them.

    >>> same("sink 2.67 m/s", "sink 2.68 m/s"), same("2.67 m/s", "2.69 m/s"), same("7 cells", "7 ribs")
    (True, False, False)
    """
    if squeezed(NUMBER.sub("#", one)) != squeezed(NUMBER.sub("#", other)):
        return False
    pairs = zip(NUMBER.findall(one), NUMBER.findall(other), strict=True)
    return all(
        abs(float(a) - float(b)) <= 1.01 * max(last_digit(a), last_digit(b)) + part * abs(float(b))
        for a, b in pairs
    )


def agrees(name: str, one: str, other: str) -> bool:
    """Whether two texts of a block are the same, as far as they can be."""
    return same(one, other, LOOSE.get(name, 0.0))


def squeezed(text: str) -> str:
    """Without what alignment does to blanks and rules of tables."""
    return re.sub(r"#+", "#", re.sub(r"-{3,}", "---", re.sub(r" +", " ", text)))


def last_digit(number: str) -> float:
    """Unit of the last printed digit."""
    mantissa, _, exponent = number.partition("e")
    places = len(mantissa.partition(".")[2])
    return 10.0 ** (int(exponent or 0) - places)


def stale(text: str) -> list[str]:
    """Names of a text's parts that no longer are what the program says."""
    return [
        found["name"] for found in BLOCK.finditer(text)
        if found["name"] != "speed" and not agrees(found["name"], found["text"], BLOCKS[found["name"]]())
    ]  # fmt: skip


def renewed(text: str, *, with_speed: bool) -> str:
    """A text with its parts made anew; a part that is still the same is left alone."""

    def part(found: re.Match[str]) -> str:
        name = found["name"]
        if name == "speed" and not with_speed:
            return found[0]
        new = speed() if name == "speed" else BLOCKS[name]()
        return found[0] if agrees(name, found["text"], new) else f"{found[1]}{new}{found[4]}"

    return BLOCK.sub(part, text)


def main() -> None:
    """Check or write."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--speed", action="store_true")
    options = parser.parse_args()
    for path in TEXTS:
        text = path.read_text(encoding="utf-8")
        if not options.check:
            path.write_text(renewed(text, with_speed=options.speed), encoding="utf-8")
        elif old := stale(text):
            raise SystemExit(f"{path.name} is stale: {', '.join(old)}; run scripts/readme_tables.py")


if __name__ == "__main__":
    main()
