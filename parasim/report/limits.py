"""What a payload can take, in words: limits of the design's `landing` that an arrival does not keep."""

from collections.abc import Iterable, Mapping

from parasim.flight.arrival import Verdict
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE
from parasim.units import System, show

LIMIT_WORDS = {
    "sink": ("sink", "max_sink", "speed"),
    "ground_speed": ("speed over the ground", "max_ground_speed", "speed"),
    "energy": ("energy", "max_energy", "energy"),
    "load": ("peak load", "max_load", "ratio"),
}
"""Figure with a limit: words, key in the design's `landing`, kind of quantity."""


def show_limited(value: float, name: str, system: System) -> str:
    """A figure that has a limit; loads in whole weights."""
    kind = LIMIT_WORDS[name][2]
    return f"{value:.0f} times its weight" if kind == "ratio" else show(value, kind, system)


def may_pass(figures: Iterable[tuple[str, float, float | None, str]], system: System) -> list[str]:
    """A phrase for each figure whose worse end passes its limit, if it has one: words, end, limit, kind."""
    return [
        f"{words} may be {show(worst, kind, system)} (at most {show(limit, kind, system)})"
        for words, worst, limit, kind in figures
        if limit is not None and worst > limit
    ]


def short_margins(tuck: float, stall: float, how: str, system: System) -> list[str]:
    """A phrase for each margin of the glide [rad] under what is asked of it; `how`: may be, is."""
    return [
        f"{words} {how} {show(margin, 'angle', system)} (wanted {show(reserve, 'angle', system)})"
        for words, margin, reserve in (
            ("nose-tuck margin", tuck, TUCK_RESERVE),
            ("stall margin", stall, STALL_RESERVE),
        )
        if margin < reserve
    ]


def not_kept(
    verdicts: Iterable[Verdict], system: System, *, worst: Mapping[str, float] | None = None
) -> list[str]:
    """Limits that are not kept, or not by the worse end of a band, a phrase each.

    Parameters
    ----------
    verdicts : iterable of Verdict
        Figures against limits.
    system : {"metric", "imperial"}
        Units.
    worst : mapping of str to float, optional
        Worst figures that are likely, by name. [SI]
    """
    found = []
    for verdict in verdicts:
        worse = max(verdict.value, (worst or {}).get(verdict.name, verdict.value))
        if verdict.limit is None or worse <= verdict.limit:
            continue
        over = verdict.value > verdict.limit
        value = show_limited(verdict.value if over else worse, verdict.name, system)
        limit = show_limited(verdict.limit, verdict.name, system)
        found.append(f"{LIMIT_WORDS[verdict.name][0]} {'' if over else 'may be '}{value} (at most {limit})")
    return found
