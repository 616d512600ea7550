"""Checklists: before packing, before a drop, after landing. Common practice, no source."""

from collections.abc import Iterator
from dataclasses import dataclass

from parasim.files import file_stem
from parasim.ladder.expectations import FlightNumbers
from parasim.sewing.order.job import MASS_TOLERANCE, Job
from parasim.sewing.packing import packed, packed_words

NOBODY_BELOW = (
    "Do not start unless nobody is below: not within the glide in any direction, nor where it drifts or "
    "falls unopened; somebody watches, and can call it off."
)
"""First of every list that ends in a release."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checklist:
    """A list to tick: a plain name, a title, and its items in words."""

    key: str
    title: str
    items: tuple[str, ...]


def checklists(job: Job, numbers: FlightNumbers, design_file: str) -> tuple[Checklist, ...]:
    """Before packing, before a drop, after landing.

    Parameters
    ----------
    job : Job
        What was built.
    numbers : FlightNumbers
        From flight.
    design_file : str
        As it is named on the command line.
    """
    return (
        Checklist(key="pre_pack", title="Before packing", items=tuple(_pre_pack(job))),
        Checklist(key="pre_drop", title="Before a drop", items=tuple(_pre_drop(job, numbers))),
        Checklist(key="after_landing", title="After landing", items=tuple(_after(job, design_file))),
    )


def _pre_pack(job: Job) -> Iterator[str]:
    canopy, opening = job.canopy, job.design.opening
    pieces = sum(total.count for total in job.line_sheet.totals)
    spaces = f"{canopy.n_half_cells} {'half cells' if canopy.n_half_cells > canopy.n_cells else 'cells'}"
    yield f"Canopy dry and empty: no sand, grass or pin in any of its {spaces}."
    yield "No tear, no open seam; trailing edge and inlet lips whole."
    if canopy.stabiliser is not None:
        yield "Stabilisers flat, not folded into the lines."
    yield (
        f"All {pieces} pieces of line there, none frayed or knotted by itself; rows "
        f"{', '.join(job.design.lines.rows)} and brakes clear from the riser ends to the canopy."
    )
    if job.design.lines.cascades:
        yield "Knots of the cascades tight, where they were."
    yield (f"Brakes at their zero marks, both alike; {job.size(job.design.free_play)} of free play each.")
    if opening.slider:
        yield "Slider at the top of the lines, all lines through their own hole."
    if opening.reefing is not None:
        yield f"Reefing set: {100 * opening.reefing.area:.0f} % for {job.say(opening.reefing.time, 'time')}."
    yield _PACKS[opening.pack]
    yield " ".join(
        packed_words(packed(job.design, {"canopy": job.cloth_mass, "lines": job.line_mass}), job.system)
    )
    yield "Same fold every time; who packed it, and when, written down."


_PACKS = {
    "bag": "Folded into the bag, lines stowed last; pilot chute free to come out first.",
    "loose": "Folded loosely, nose free; lines stretched, nothing that can catch.",
    "static line": "Static line tied to the carrier and to the pack, not round any line or riser.",
}


def _pre_drop(job: Job, n: FlightNumbers) -> Iterator[str]:
    mass, design = job.all_up_mass, job.design
    yield NOBODY_BELOW
    yield "Local rules looked up and kept; permissions in hand; in doubt a licensed practitioner asked."
    yield "The rung below this one was climbed, with dead weight, without anything left to explain."
    yield (
        f"All-up mass weighed: {job.say(mass, 'mass')} expected; more than {100 * MASS_TOLERANCE:.0f} % "
        "off and the figures of this sheet do not hold."
    )
    ends = "all four" if job.design.payload.suspension.four_hooks else "both"
    yield f"Payload hung from {ends} riser ends, knots or shackles closed; nothing sharp at its corners."
    if design.servo is not None:
        yield (
            "Servos on, battery charged: left command pulls the left brake, "
            f"{job.size(design.brakes.travel)} at full; both go back to zero."
        )
        yield "Loss of signal tried: both brakes release."
    else:
        yield "Brakes tied at their zero marks, both alike."
    site = "" if n.site_wind is None else f" (planned with {job.say(n.site_wind, 'wind_speed')})"
    where = f"measured {job.say(n.wind_height or 0.0, 'length', 0)} above ground"
    yield (
        f"Wind {'judged where it flies' if n.wind_height is None else where}{site}: not "
        f"over {job.say(n.wind_limit, 'wind_speed')}."
    )
    minimum = n.opening.minimum_release
    if n.packed_height is not None:
        height = job.say(n.packed_height, "length", 0)
        yield f"Release height, packed, to open and fly the plan: {height} at least."
    elif minimum is not None:
        yield f"Release height, packed: {job.say(minimum, 'length', 0)} at least."
    yield (
        "Ground below clear for the glide in every direction, for the drift, and for the unopened fall: "
        + "; ".join(_falls(job, n))
        + "."
    )
    yield "Video on; time, wind and release height written down."


def _falls(job: Job, n: FlightNumbers) -> Iterator[str]:
    for drops in n.drops:
        yield (
            f"from {job.say(drops.height, 'length', 0)} it glides "
            f"{job.say(drops.height * n.glide_ratio, 'length', 0)} in a calm"
            f" and unopened arrives with {job.say(drops.unopened_energy, 'energy', 0)}"
        )


def _after(job: Job, design_file: str) -> Iterator[str]:
    yield "Before it is moved: photograph how it lies, and how far from the point under the release."
    yield "Time aloft, landing place, wind and brakes written beside what was expected."
    yield "Canopy: tears, seams at the tabs, inlet lips, stitches of the trailing edge."
    if job.canopy.stabiliser is not None:
        yield "Stabilisers: torn corners, pulled seams."
    yield "Lines, knots, riser ends, tabs: fraying, slipping, heat."
    if job.design.servo is not None:
        yield "Servos: full travel both ways, no play in arm or drum."
    yield "Payload: corners, foam, connectors; weighed again if anything came off."
    yield (
        "Re-measure every line under "
        f"{job.line_sheet.tension_words(job.system)} after the first drops, after a hard opening, and each "
        "season: "
        f"fill in {file_stem(job.design.name)}_lines_to_measure.csv of parasim lines "
        f"{design_file} --out out, then "
        f"parasim lines {design_file} --measured FILE."
    )
    yield f"Left and right differ by more than {job.size(job.left_right)}: adjust before the next drop."
    yield "Figures outside their band: back one rung, until it is known why."
    yield "Dried before it is put away, out of the sun."
