"""The plan of a release for a target: circle while it drifts, then turn into the wind and land.

Everything is planned in the air: where the air will carry something from a place until touchdown is that
place *in the air*. There a circle stands still, a straight glide is straight, and the target is to be reached
as in a calm.

    release    heading into the wind, as far upwind of the target as the plan drifts, less the final
    circle     with one brake held, on that spot of the air
    downwind   as long as it takes for the rest of the height to be the way home
    turn home  half a circle, into the wind
    final      straight to the target, then the flare
"""

from dataclasses import dataclass
from math import cos, floor, hypot, sin

import numpy as np

from parasim.flight.landing import FORWARD_RESERVE, wind_limit
from parasim.flight.release.descent import Descent
from parasim.flight.turn.steady import SteadyTurn
from parasim.rotations import FloatArray

FINAL_TIME = 10.0
"""Of the shortest final, straight into the wind. [s] Our choice, no source."""

LAG_TIME = 2.5
"""Kept besides for what rolling into and out of the last turn takes. [s] Our choice, no source."""

LONGEST_CIRCLE = 20.0
"""Time that a circle takes at most, if a brake does so: what is left of the height when no circle fits any
more goes into the last legs, whose errors nothing corrects. [s] Our choice, no source."""

SPARE = 0.3
"""Part of a circle that is planned for what circles take more than they should; a third of it is kept when it
flies. [-] Our choice, no source."""

PACE = 0.75
"""Length of a step. [m] Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A part of the plan.

    Attributes
    ----------
    name : str
        In words.
    top, bottom : float
        Heights above ground between which it is flown. [m]
    time, share : float
        [s]; part of the whole height that it takes. [-]
    """

    name: str
    top: float
    bottom: float
    time: float
    share: float

    @property
    def lost(self) -> float:
        """Height. [m]"""
        return self.top - self.bottom


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Where to let go for a target, and what to fly from there. Circles go to the left.

    Attributes
    ----------
    descent : Descent
        Glide and wind.
    circle : SteadyTurn
        Of the hold, left brake.
    low_glide : float
        Low end of the glide ratio's band. [-]
    time_share : float
        Half the band of the time aloft, over it. [-]
    gust : float
        By which the wind may rise all through the final. [m/s]
    into : ndarray, shape (2,)
        Unit vector into the wind near the ground, north and east; the course of the final.
    drift : ndarray, shape (2, n)
        Left until touchdown from every height of the descent, as the plan sinks. [m]
    time : ndarray, shape (n,)
        Likewise. [s]
    """

    descent: Descent
    circle: SteadyTurn
    low_glide: float
    time_share: float
    gust: float
    into: FloatArray
    drift: FloatArray
    time: FloatArray

    @property
    def glide_ratio(self) -> float:
        """With the brakes released at the ground. [-]"""
        return float(1 / np.tan(self.descent.angle[0]))

    @property
    def forward_speed(self) -> float:
        """At the ground. [m/s]"""
        return float(self.descent.forward_speed[0])

    @property
    def final_way(self) -> float:
        """Through the air, on the shortest final. [m]"""
        return FINAL_TIME * self.forward_speed

    @property
    def final_height(self) -> float:
        """From which the shortest final and its turn's lag take the low end of the glide. [m]"""
        return self._final_height(self.low_glide)

    @property
    def circle_height(self) -> float:
        """Lost in a circle at the low end of the glide. [m]"""
        return self.circle.height_per_turn * self.glide_ratio / self.low_glide

    @property
    def least_height(self) -> float:
        """Least release height above touchdown: one circle, the turn home in it, and the final. [m]"""
        return self.circle_height + self.final_height

    @property
    def lowest_release(self) -> float:
        """The same of the confluence above ground. [m]"""
        return self.least_height + float(self.descent.heights[0])

    @property
    def release(self) -> FloatArray:
        """North and east of where to let go, from the target, shape (2,). [m]"""
        return -self.drift[:, -1] - self.final_way * self.into

    @property
    def box(self) -> float:
        """How far from there it may be let go and still come home; none below zero. [m]

        All height above the final and one circle, at the low end of the glide, less half the band of the
        drift and what a gust takes off the final.
        """
        reach = self.low_glide * (self.descent.height - self.least_height)
        return reach - self.time_share * hypot(*self.drift[:, -1]) - self.gust_miss

    @property
    def gust_miss(self) -> float:
        """How far short it lands where the wind rises by the gust all through the final. [m]"""
        return FINAL_TIME * self.gust

    @property
    def drift_per_circle(self) -> float:
        """Mean, while it circles. [m]"""
        return self.drift_per_height * self.circle.height_per_turn

    @property
    def drift_per_height(self) -> float:
        """Drift over height, mean while it circles. [-]"""
        high, low = self.drift[:, -1], self.drift_at(self.final_height)
        return float(hypot(*(high - low))) / (self.descent.height - self.final_height)

    def drift_at(self, height: float) -> FloatArray:
        """Left from a height above touchdown, north and east, shape (2,). [m]"""
        return np.array([np.interp(height, self.descent.above, one) for one in self.drift])

    @property
    def circles(self) -> int:
        """Whole ones, the turn home included, at the glide as it is expected; at least that turn's one."""
        final = self._final_height(self.glide_ratio)
        return max(1, floor((self.descent.height - final) / self.circle.height_per_turn - SPARE))

    def legs(self, flare: float) -> tuple[Leg, ...]:
        """Parts of the plan from the top, heights of the payload's lower face; flare from a height. [m]"""
        height, circle = self.descent.height, self.circle
        final = self._final_height(self.glide_ratio)
        left_over = height - final - self.circles * circle.height_per_turn
        ends = (
            ("circle left", height - (self.circles - 0.5) * circle.height_per_turn),
            ("downwind", height - (self.circles - 0.5) * circle.height_per_turn - left_over / 2),
            ("turn left into the wind", final + left_over / 2),
            ("straight into the wind", flare),
            ("flare", 0.0),
        )
        found, top = [], height
        for name, bottom in ends:
            if top - bottom > 1e-9:
                time = self.time_at(top) - self.time_at(bottom)
                share = (top - bottom) / height
                found.append(Leg(name=name, top=top, bottom=bottom, time=time, share=share))
                top = bottom
        return tuple(found)

    def _final_height(self, glide_ratio: float) -> float:
        return (FINAL_TIME + LAG_TIME) * self.forward_speed / glide_ratio

    def time_at(self, height: float) -> float:
        """Left from a height above touchdown. [s]"""
        return float(np.interp(height, self.descent.above, self.time))


def build_plan(
    descent: Descent,
    circle: SteadyTurn,
    *,
    low_glide: float,
    time_share: float,
    gust: float,
    calm_heading: float,
) -> Plan:
    """Plan of a descent.

    Parameters
    ----------
    descent, circle, low_glide, time_share, gust
        As in `Plan`.
    calm_heading : float
        Course of the final without a wind. [rad]

    Notes
    -----
    Above the final it sinks as in its circle: faster with height as its straight glide does.
    """
    above, straight = descent.above, descent.sink
    final = FINAL_TIME * float(descent.forward_speed[0]) / low_glide
    sink = np.where(above > final, straight * circle.sink / straight[0], straight)
    drift, time = descent.remaining(sink)
    north, east = (float(np.interp(final / 2, above, one)) for one in descent.wind)
    speed = hypot(north, east)
    course = (-north / speed, -east / speed) if speed > 0 else (cos(calm_heading), sin(calm_heading))
    return Plan(
        descent=descent,
        circle=circle,
        low_glide=low_glide,
        time_share=time_share,
        gust=gust,
        into=np.array(course),
        drift=drift,
        time=time,
    )


def choose_circle(
    turns: tuple[SteadyTurn, ...], *, height: float, least: float = 0.5, most: float = 1.0
) -> SteadyTurn | None:
    """Least brake that circles twice, and quickly, else that of the least circle; None if none turns.

    Parameters
    ----------
    turns : tuple of SteadyTurn
        By rising left brake.
    height : float
        Above the final. [m]
    least, most : float
        Brakes between which to choose, fractions of full travel. [-]
    """
    usable = [
        turn
        for turn in turns
        if least - 1e-9 <= turn.brake <= most + 1e-9 and turn.rate < 0 and not turn.steep
    ]
    fitting = (
        turn for turn in usable if 2 * turn.height_per_turn <= height and turn.turn_time <= LONGEST_CIRCLE
    )
    return next(fitting, min(usable, key=lambda turn: turn.height_per_turn, default=None))


def limit_factor(plan: Plan) -> float:
    """Times how strong the wind may be, by two rules; infinite in a calm.

    With `FORWARD_RESERVE` of its forward speed in hand and the gust on top it makes headway at every height
    of the final and of the turn before it; and with that reserve the low end of its glide brings it upwind of
    the point under the release.
    """
    descent = plan.descent
    low = descent.above <= plan.final_height + plan.circle_height / 2
    wind = np.hypot(*descent.wind[:, low])
    kept = wind_limit(1.0) * descent.forward_speed[low] - plan.gust
    drift = hypot(*descent.remaining(descent.sink)[0][:, -1])
    with np.errstate(divide="ignore", invalid="ignore"):
        near = np.where(wind > 0, kept / wind, np.inf).min()
    whole = (1 - FORWARD_RESERVE) * plan.low_glide * descent.height / drift if drift > 0 else np.inf
    return max(0.0, min(float(near), whole))
