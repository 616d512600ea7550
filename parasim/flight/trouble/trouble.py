"""From what a maker saw in the air to ranked things to check, in sizes of this design."""

from dataclasses import dataclass

from parasim.answer import Answer
from parasim.caveats import Caveat
from parasim.dynamics.vehicle import Vehicle
from parasim.flight.trouble.check import PLAUSIBLE, Check, Findings, together
from parasim.flight.trouble.flaring import flaring
from parasim.flight.trouble.folding import folding
from parasim.flight.trouble.opening import opening_hard
from parasim.flight.trouble.pitch import diving, hanging_back
from parasim.flight.trouble.swinging import swinging
from parasim.flight.trouble.symptom import USUAL_RATE, Seen, read_seen
from parasim.flight.trouble.turning import turning

TOLERANCES = Caveat(
    "The sizes called likely are our choice by common practice, without source; weigh and measure your own. "
    f"Up to {PLAUSIBLE:g} times as much is taken to pass unnoticed on the bench."
)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Trouble(Answer):
    """Answer to `parasim trouble`.

    Attributes
    ----------
    vehicle : Vehicle
        As designed.
    seen : Seen or None
        What was seen; None for the list of symptoms.
    findings : Findings or None
        What may be wrong, the likeliest first; None for the list.
    """

    REPORT = "parasim.report.trouble:TroubleReport"

    vehicle: Vehicle
    seen: Seen | None = None
    findings: Findings | None = None

    @property
    def checks(self) -> tuple[Check, ...]:
        """The likeliest first."""
        return () if self.findings is None else self.findings.checks

    @property
    def together(self) -> tuple[float, float]:
        """Part of what was seen that all errors of likely size do: all the same way, and by chance. [-]"""
        return together(self.checks)

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        if self.findings is None:
            return ()
        return (*self.vehicle.caveats, TOLERANCES, *self.findings.caveats)


def trouble(vehicle: Vehicle, symptom: str = "") -> Trouble:
    """What to check after something was seen in the air.

    Parameters
    ----------
    vehicle : Vehicle
        As designed.
    symptom : str
        A phrase such as ``turns left 10 deg/s``; empty for the list of symptoms.

    Raises
    ------
    OptionError
        If the phrase is no symptom, or its amount none that the design has not by itself.
    TrimError
        If there is no stable steady glide as designed.
    ConvergenceError
        If a motion could not be followed.
    DesignError
        If the canopy cannot open as designed, where it opens hard.
    """
    if not symptom.strip():
        return Trouble(vehicle=vehicle)
    seen = read_seen(symptom)
    return Trouble(vehicle=vehicle, seen=seen, findings=_found(vehicle, seen))


def _found(vehicle: Vehicle, seen: Seen) -> Findings:
    name, side, amount = seen.symptom.name, seen.symptom.side, seen.amount
    if name.startswith("turns") and side:
        return turning(vehicle, side, amount or USUAL_RATE)
    if name.endswith("collapses") and side:
        return folding(vehicle, side, name.partition(" ")[0])
    if name.startswith("rocks"):
        return swinging(vehicle, name.removeprefix("rocks").removeprefix(" in "), amount)
    ask = {
        "dives": diving, "hangs back": hanging_back, "opens hard": opening_hard, "will not flare": flaring,
    }[name]  # fmt: skip
    return ask(vehicle, amount)
