"""The exceptions a user can act on.

::

    ParasimError
    ├── DesignError          the design file holds mistakes, one line each
    ├── InterruptedRunError  the user stopped it; what was done is reported
    ├── OptionError          a value on the command line cannot be used
    ├── OutputError          a result cannot be written
    ├── OutOfRangeError      a model was asked for something outside its range
    └── SolverError          a calculation found no answer
        ├── TrimError        no steady flight for this design
        └── ConvergenceError an iteration did not settle
            └── FlightError  a flight tumbled or got stuck, and was not computed to its end

The command line turns each of them into plain lines on stderr and exit code 2, or 130 if it was stopped.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace


class ParasimError(Exception):
    """Base of every error that a user of parasim can act on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One mistake in a design file.

    Parameters
    ----------
    key : str
        Dotted key, such as ``canopy.span``; empty for the file as a whole.
    given : str
        What was found, quoted; empty when nothing was.
    problem : str
        What is wrong with it, in words.
    hint : str
        What would be right.
    file : str
        Name of the file, empty when the design did not come from one.
    line : int or None
        Line in the file, counted from 1.
    """

    key: str = ""
    given: str = ""
    problem: str = ""
    hint: str = ""
    file: str = ""
    line: int | None = None

    def __str__(self) -> str:
        """One line: file, line and key, then what was given and what would be right.

        Examples
        --------
        >>> print(Mistake(file="heron.yaml", line=12, key="canopy.span", given='"48 kg"',
        ...               problem="a mass", hint='use a length such as "1.1 m"'))
        heron.yaml:12: canopy.span: given "48 kg", a mass; use a length such as "1.1 m"
        """
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        found = _joined(", ", f"given {self.given}" if self.given else "", self.problem)
        line = _joined(": ", place, self.key, _joined("; ", found, self.hint))
        return plain(line)


def plain(text: str) -> str:
    r"""Text that a user gave, as it can be shown: what does not print is escaped, so that it does nothing.

    Examples
    --------
    >>> print(plain("a\x1b[31m b\nc"))
    a\x1b[31m b\nc
    """
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def first_line(error: Exception) -> str:
    """The first mistake of an error, as it can be shown."""
    return plain(str(error).split("\n", 1)[0])


def _joined(mark: str, *parts: str) -> str:
    return mark.join(part for part in parts if part)


class DesignError(ParasimError):
    """The design cannot be used; one line for each mistake.

    Parameters
    ----------
    *mistakes : Mistake
        At least one.

    Examples
    --------
    >>> error = DesignError(Mistake(key="lines.rows", problem="row B lies ahead of row A"))
    >>> print(error.in_file("heron.yaml"))
    heron.yaml: lines.rows: row B lies ahead of row A
    """

    def __init__(self, *mistakes: Mistake) -> None:
        self.mistakes: Sequence[Mistake] = mistakes
        super().__init__("\n".join(str(mistake) for mistake in mistakes))

    def __reduce__(self) -> tuple[type["DesignError"], tuple[Mistake, ...]]:
        """Survive the way between processes."""
        return type(self), tuple(self.mistakes)

    def in_file(self, file: str) -> "DesignError":
        """Return the same error, with the file named where none was."""
        return DesignError(*(replace(m, file=m.file or file) for m in self.mistakes))


class InterruptedRunError(ParasimError):
    """The user stopped a long run; what is done of it is reported and kept."""


class OptionError(ParasimError):
    """A value on the command line cannot be used."""


class OutputError(ParasimError):
    """A result cannot be written where it was asked for."""


class OutOfRangeError(ParasimError):
    """A model was asked for something outside the range it holds for.

    Parameters
    ----------
    name : str
        What the value is.
    value : float
        What was asked for.
    low, high : float
        The range the model holds for.
    unit : str
        Unit of all three.

    Examples
    --------
    >>> print(OutOfRangeError("height", 30e3, low=-500, high=20e3, unit="m"))
    height is 30000 m; use -500 to 20000 m
    """

    def __init__(self, name: str, value: float, *, low: float, high: float, unit: str = "") -> None:
        self.name, self.value, self.low, self.high, self.unit = name, value, low, high, unit
        tail = f" {unit}" if unit else ""
        super().__init__(f"{name} is {value:g}{tail}; use {low:g} to {high:g}{tail}")

    def __reduce__(self) -> tuple[object, ...]:
        """Survive the way between processes."""
        return _out_of_range, (self.name, self.value, self.low, self.high, self.unit)


def _out_of_range(name: str, value: float, low: float, high: float, unit: str) -> OutOfRangeError:
    return OutOfRangeError(name, value, low=low, high=high, unit=unit)


class SolverError(ParasimError):
    """A calculation found no answer."""


class TrimError(SolverError):
    """There is no steady flight for this design under these conditions."""


class ConvergenceError(SolverError):
    """An iteration did not settle within its limits."""


class FlightError(ConvergenceError):
    """A flight was ended before its landing, since what came next would be no flight of this design.

    Parameters
    ----------
    outcome : str
        ``tumbled, not computed`` or ``stuck, not computed``.
    why : str
        What was passed.
    time, height, airspeed, spin : float
        Of that moment: after release [s], above ground [m], of the confluence [m/s], of the canopy [rad/s].

    Examples
    --------
    >>> print(FlightError("tumbled, not computed", "faster than it can fall", 2.5, 80.0, 91.0, 4.0))
    tumbled, not computed: faster than it can fall, at 2.50 s, 80 m above ground, 91 m/s, 4 rad/s
    """

    def __init__(
        self, outcome: str, why: str, time: float, height: float, airspeed: float, spin: float
    ) -> None:
        self.outcome, self.why, self.time, self.height = outcome, why, time, height
        self.airspeed, self.spin = airspeed, spin
        super().__init__(
            f"{outcome}: {why}, at {time:.2f} s, {height:.3g} m above ground, {airspeed:.3g} m/s, "
            f"{spin:.3g} rad/s"
        )

    def __reduce__(self) -> tuple[type["FlightError"], tuple[str, str, float, float, float, float]]:
        """Survive the way between processes."""
        at = self.time, self.height, self.airspeed, self.spin
        return type(self), (self.outcome, self.why, *at)
