"""What a payload can take, in words: limits of the design's `landing` that an arrival does not keep."""

from collections.abc import Iterable, Mapping

from parasim.flight.arrival import Verdict
from parasim.flight.glide import STALL_RESERVE, TUCK_RESERVE
from parasim.units import System, show, unit

LIMIT_WORDS = {
    "sink": ("sink", "max_sink", "speed"),
    "ground_speed": ("speed over the ground", "max_ground_speed", "speed"),
    "energy": ("energy", "max_energy", "energy"),
    "load": ("peak load", "max_load", "ratio"),
}
"""Figure with a limit: words, key in the design's `landing`, kind of quantity."""


MORE_DIGITS = 6
"""Decimals added at most, for a figure not to read like its limit. Our choice."""


def digits_apart(value: float, limit: float, kind: str, system: System, *, digits: int | None = None) -> int:
    """Decimals, the usual ones or more, at which a figure does not read like the limit that it does not keep.

    Parameters
    ----------
    value, limit : float
        [SI]
    kind : str
        Of quantity, as in `parasim.units`.
    system : {"metric", "imperial"}
        Units.
    digits : int, optional
        Decimals, in place of the usual ones of that unit.

    Examples
    --------
    >>> digits_apart(80.3, 80.0, "length", "metric", digits=0), digits_apart(90.0, 80.0, "length", "metric")
    (1, 2)
    """
    usual = unit(kind, system).digits if digits is None else digits
    every = range(usual, usual + MORE_DIGITS + 1)

    def printed(figure: float, decimals: int) -> str:
        return show(figure, kind, system, digits=decimals)

    return next((each for each in every if printed(value, each) != printed(limit, each)), usual)


def show_apart(
    value: float, limit: float, kind: str, system: System, *, digits: int | None = None
) -> tuple[str, str]:
    """A figure and the limit that it does not keep, by `digits_apart`."""
    apart = digits_apart(value, limit, kind, system, digits=digits)
    return show(value, kind, system, digits=apart), show(limit, kind, system, digits=apart)


def show_limited(value: float, name: str, system: System, *, digits: int | None = None) -> str:
    """A figure that has a limit; loads in whole weights."""
    kind = LIMIT_WORDS[name][2]
    if kind == "ratio":
        return f"{show(value, kind, system, digits=digits or 0)} times its weight"
    return show(value, kind, system, digits=digits)


def may_pass(figures: Iterable[tuple[str, float, float | None, str]], system: System) -> list[str]:
    """A phrase for each figure whose worse end passes its limit, if it has one: words, end, limit, kind."""
    return [
        "{} may be {} (at most {})".format(words, *show_apart(worst, limit, kind, system))
        for words, worst, limit, kind in figures
        if limit is not None and worst > limit
    ]


def short_margins(tuck: float, stall: float, how: str, system: System) -> list[str]:
    """A phrase for each margin of the glide [rad] under what is asked of it; `how`: may be, is."""
    return [
        "{} {} {} (wanted {})".format(words, how, *show_apart(margin, reserve, "angle", system))
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
        shown, kind = verdict.value if over else worse, LIMIT_WORDS[verdict.name][2]
        usual = 0 if kind == "ratio" else None
        digits = digits_apart(shown, verdict.limit, kind, system, digits=usual)
        value = show_limited(shown, verdict.name, system, digits=digits)
        limit = show_limited(verdict.limit, verdict.name, system, digits=digits)
        found.append(f"{LIMIT_WORDS[verdict.name][0]} {'' if over else 'may be '}{value} (at most {limit})")
    return found
