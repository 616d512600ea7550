"""Limits on outputs: ``glide>=2.5``, ``servo_torque<=0.4 N m``."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from parasim.config.quantity import InvalidValue, read_quantity, unit_examples
from parasim.errors import OptionError, plain
from parasim.study.outputs import OUTPUTS, Output
from parasim.units import show, unit

_LIMIT = re.compile(r"\s*(?P<name>\w+)\s*(?P<sign><=|>=|<|>)\s*(?P<value>.+)")
_SHOWN = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The minimum or the most that an output may be.

    Attributes
    ----------
    name : str
        Of the output.
    at_least : bool
        Whether it is a minimum.
    value : float
        [SI]
    """

    name: str
    at_least: bool
    value: float

    @property
    def output(self) -> Output:
        """What is limited."""
        return OUTPUTS[self.name]

    @property
    def sign(self) -> str:
        """As it is written."""
        return ">=" if self.at_least else "<="

    def text(self, system: str = "metric") -> str:
        """For people."""
        shown = show(self.value, self.output.kind, "imperial" if system == "imperial" else "metric")
        return f"{self.name} {self.sign} {shown}"

    def shortfall(self, value: float) -> float:
        """By how much a value misses it, over the limit itself; negative with room to spare. [-]"""
        scale = max(abs(self.value), unit(self.output.kind).size)
        return (self.value - value if self.at_least else value - self.value) / scale

    def kept(self, value: float) -> bool:
        """Whether a value keeps it; no figure does not."""
        return self.shortfall(value) <= 0


def output_named(name: str, option: str) -> Output:
    """Output of a name.

    Raises
    ------
    OptionError
        When there is none.
    """
    if name in OUTPUTS:
        return OUTPUTS[name]
    shown = plain(name)[:_SHOWN]
    near = get_close_matches(name.lower(), OUTPUTS, n=2) or [n for n in OUTPUTS if name and name.lower() in n]
    hint = f"did you mean {' or '.join(near[:2])}?" if near else f"use {', '.join(OUTPUTS)}"
    raise OptionError(f'{option}: given "{shown}", no such output; {hint}')


def read_names(text: str) -> tuple[str, ...]:
    """Names of outputs between commas, each once.

    Raises
    ------
    OptionError
        When there is no such output.

    Examples
    --------
    >>> read_names("sink, glide,sink")
    ('sink', 'glide')
    """
    names = [part.strip() for part in text.split(",") if part.strip()]
    if not names:
        raise OptionError('--show: given nothing; use names such as "sink,glide"')
    return tuple(dict.fromkeys(output_named(name, "--show").name for name in names))


def read_limit(text: str) -> Limit:
    """Read one limit.

    Raises
    ------
    OptionError
        When it is none, or there is no such output or unit.

    Examples
    --------
    >>> read_limit("sink <= 3 m/s")
    Limit(name='sink', at_least=False, value=3.0)
    """
    shown = plain(text)[:_SHOWN]
    match = _LIMIT.fullmatch(text)
    if match is None:
        raise OptionError(
            f'--limit: given "{shown}", no limit; use one such as "glide>=2.5" or "sink<=3 m/s"'
        )
    output = output_named(match["name"], "--limit")
    try:
        value = read_quantity(match["value"], output.quantity)
    except InvalidValue as invalid:
        hint = invalid.hint or f"use such as {unit_examples(output.quantity)}"
        raise OptionError(f'--limit {output.name}: given "{shown}", {invalid.problem}; {hint}') from None
    return Limit(name=output.name, at_least=match["sign"].startswith(">"), value=value)


def check_limits(limits: Sequence[Limit]) -> None:
    """Refuse limits that no value can keep, and one given twice.

    Raises
    ------
    OptionError
        When a minimum lies over a most.
    """
    for i, one in enumerate(limits):
        for other in limits[:i]:
            if one.name != other.name:
                continue
            if one.at_least == other.at_least:
                raise OptionError(f"--limit {one.name}: given twice; give one {one.sign}")
            minimum, most = sorted((one, other), key=lambda limit: not limit.at_least)
            if minimum.value > most.value:
                raise OptionError(f"--limit {one.name}: no value is both {minimum.text()} and {most.text()}")
