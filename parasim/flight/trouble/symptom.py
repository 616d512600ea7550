"""What a maker saw in the air: a short phrase, and how much of it."""

import re
from dataclasses import dataclass
from math import pi, radians
from typing import Literal

from parasim.config.base import Quantity, angular_rate_between, force_between, speed_between, time_between
from parasim.config.quantity import NUMBER, InvalidValue
from parasim.errors import OptionError, plain
from parasim.units import System, show

Side = Literal["left", "right"]

USUAL_RATE = radians(10)
"""Turn rate taken where none is given: a circle in 36 s. Our choice, no source. [rad/s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Symptom:
    """One thing that is seen in the air.

    Attributes
    ----------
    name : str
        As it is asked for.
    words : str
        What was seen, for the list.
    amount : str
        What may be given with it, and what counts without; empty where nothing is.
    kind : str
        Of that amount, a key of `parasim.units.UNITS`.
    limits : Quantity or None
        How it is read.
    usual : float or None
        Amount without one given; None where the design decides. [SI]
    side : {"left", "right"} or None
        Side that it goes to.
    also : tuple of str
        Other ways to say it.
    """

    name: str
    words: str
    amount: str = ""
    kind: str = ""
    limits: Quantity | None = None
    usual: float | None = None
    side: Side | None = None
    also: tuple[str, ...] = ()


def _turns(side: Side) -> Symptom:
    return Symptom(
        name=f"turns {side}",
        words=f"it turns {side}, nobody steering",
        amount="turn rate or time of a circle; else 10 deg/s",
        kind="angular_rate",
        limits=angular_rate_between(0.5, 180.0),
        usual=USUAL_RATE,
        side=side,
        also=(f"turn {side}", f"pulls {side}", f"{side} turn"),
    )


def _collapses(name: str, side: Side, *also: str) -> Symptom:
    return Symptom(name=name, words="the nose of one half folds under", side=side, also=also)


def _rocks(name: str, words: str, *also: str) -> Symptom:
    return Symptom(
        name=name, words=words, amount="period of the swing", kind="time", limits=time_between(0.1, 60.0),
        also=also,
    )  # fmt: skip


SYMPTOMS = (
    _turns("left"),
    _turns("right"),
    Symptom(
        name="dives", words="it flies fast and steep", kind="speed",
        amount="sink; else to where the nose tucks", limits=speed_between(0.2, 40.0),
        also=("dive", "nose low"),
    ),
    Symptom(
        name="hangs back", words="it flies slowly, nose high", kind="speed",
        amount="airspeed; else 4 deg before the stall", limits=speed_between(0.5, 40.0),
        also=("hang back", "nose high", "flies slowly", "flies slow"),
    ),
    _rocks("rocks", "it swings and does not settle", "swings", "rock"),
    _rocks("rocks in pitch", "the same, fore and aft", "swings in pitch"),
    _rocks("rocks in roll", "the same, from side to side", "swings in roll"),
    _collapses("one side collapses", "left", "side collapses", "a side collapses"),
    _collapses("left side collapses", "left"),
    _collapses("right side collapses", "right"),
    Symptom(
        name="opens hard", words="lines or tabs jerk as it opens", kind="force",
        amount="force; else 1.5 times the computed one", limits=force_between(1.0, 20000.0),
        also=("open hard", "hard opening"),
    ),
    Symptom(
        name="will not flare", words="pulled as planned, it lands fast", kind="speed",
        amount="sink at touchdown; else half the gain lost", limits=speed_between(0.1, 40.0),
        also=("won't flare", "does not flare", "no flare"),
    ),
)  # fmt: skip
"""All that can be asked, in the order of the list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A symptom and its amount; None where none was given and the design decides. [SI]"""

    symptom: Symptom
    amount: float | None

    def words(self, system: System) -> str:
        """As it follows the design's name: ``turns left 10.0 deg/s``."""
        if self.amount is None:
            return self.symptom.name
        digits = 0 if self.symptom.kind == "force" else None
        return f"{self.symptom.name} {show(self.amount, self.symptom.kind, system, digits=digits)}"


def read_seen(text: str) -> Seen:
    """Read a phrase such as ``turns left 10 deg/s``; the beginning of a name will do.

    Raises
    ------
    OptionError
        When it is no symptom, could be several, or the amount is no such quantity.

    Examples
    --------
    >>> read_seen("dives at 10 ft/s").words("metric"), read_seen("Hangs").words("metric")
    ('dives 3.05 m/s', 'hangs back')
    >>> read_seen("turns left 36 s").words("metric")
    'turns left 10.0 deg/s'
    """
    number = re.search(r"[-+]?\.?\d", text)
    phrase, amount = (text[: number.start()], text[number.start() :]) if number else (text, "")
    symptom = _named(" ".join(phrase.lower().replace("’", "'").split()), text)
    return Seen(symptom=symptom, amount=_amount(symptom, amount.strip(), text))


def _named(phrase: str, text: str) -> Symptom:
    phrase = re.sub(r" ?\b(at|by|of|with|about|to the)$", "", phrase)
    exact = [one for one in SYMPTOMS if phrase in (one.name, *one.also)]
    begun = [one for one in SYMPTOMS if phrase and one.name.startswith(phrase)]
    found = exact or begun
    if len(found) == 1:
        return found[0]
    problem, names = ("could be several", found) if found else ("not a symptom known here", [*SYMPTOMS])
    raise OptionError(
        f'SYMPTOM: given "{plain(text)[:60]}", {problem}; use {", ".join(one.name for one in names)}'
    )


def _amount(symptom: Symptom, amount: str, text: str) -> float | None:
    if not amount:
        return symptom.usual
    given = f'SYMPTOM: given "{plain(text)[:60]}", '
    if symptom.limits is None:
        raise OptionError(f"{given}{symptom.name} takes no amount; leave it out")
    if symptom.kind == "angular_rate" and NUMBER.fullmatch(amount):
        raise OptionError(
            f'{given}{amount} of what? write "{symptom.name} {amount} deg/s", or "{symptom.name} 36 s" for '
            "the time of a circle"
        )
    try:
        if symptom.kind == "angular_rate" and (circle := _circle(amount)):
            return 2 * pi / circle
        return symptom.limits.read(amount)
    except InvalidValue as invalid:
        raise OptionError(f"{given}{plain(amount)[:40]} is {invalid}") from None


def _circle(amount: str) -> float | None:
    """Time of a full circle, if the amount is a time. [s]"""
    return time_between(2.0, 720.0).read(amount) if re.search(r"\d ?(s|min)$", amount) else None
