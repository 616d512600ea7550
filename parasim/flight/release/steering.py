"""Flying the plan: what a hand on the brakes, or a small computer, would do with what it sees.

Twice a second it looks where it is in the air (`parasim.flight.release.plan`), on axes x into the wind and y
to the left, the target at the origin, and turns its heading chi, counted from x to y, towards the one wanted:

    hold       around the circle that touches the final line where the shortest final begins, until what is
               left of the glide would not last for another circle and the way home
    downwind   along the far side of that circle, until what is left is just the way home
    home       the shortest turn and straight to the target, into the wind near the ground

The way home is an arc and its tangent. The brake for a rate of turn is that of the steady turn. What wind and
sink turn out to be is taken from the last seconds' motion over the ground.
"""

from dataclasses import dataclass, field
from itertools import takewhile
from math import asin, atan2, cos, hypot, inf, pi, radians, sin, sqrt
from typing import Literal

import numpy as np

from parasim.dynamics.steered import Seen
from parasim.flight.release.plan import FINAL_TIME, LAG_TIME, SPARE, Plan
from parasim.flight.turn.steady import SteadyTurn
from parasim.rotations import FloatArray

EVERY = 0.5
"""From one setting of the brakes to the next. [s] Our choice."""

GAIN = 0.5
"""Rate of turn asked for by angle off the wanted heading. [1/s] Our choice."""

MEMORY = 10.0
"""Time over which wind and sink are averaged. [s] Our choice."""

SHORT_MEMORY = 3.0
"""Time over which it learns how much a brake turns. [s] Our choice."""

MOST_CHANGE = 3.0
"""How many times more, or less, than planned it lets a brake turn. [-] Our choice."""

NEAR = 1.5
"""Distance from the circle's centre, over its radius, from which on it is followed. [-] Our choice."""

SMALLEST_RATE = radians(0.3)
"""Rate of turn for which no brake is pulled. [rad/s] Our choice."""

Phase = Literal["hold", "downwind", "home"]


def way_home(x: float, y: float, chi: float, radius: float, side: int) -> tuple[float, float]:
    """Arc and straight line that lead to the origin, turning to one side only.

    Parameters
    ----------
    x, y : float
        Where it is. [m]
    chi : float
        Heading, from x towards y. [rad]
    radius : float
        Of the turn. [m]
    side : {1, -1}
        Towards y, or away from it.

    Returns
    -------
    arc, straight : float
        Infinite where the origin lies inside the circle. [m]

    Examples
    --------
    >>> arc, straight = way_home(-100.0, 40.0, pi, 20.0, 1)  # half a circle, then along the x axis
    >>> round(arc / pi, 6), round(straight, 6)
    (20.0, 100.0)
    """
    y, chi = side * y, side * chi
    cx, cy = x - radius * sin(chi), y + radius * cos(chi)
    far = hypot(cx, cy)
    if far <= radius:
        return inf, inf
    wanted = atan2(-cy, -cx) + asin(radius / far)
    return radius * ((wanted - chi) % (2 * pi)), sqrt(far**2 - radius**2)


def wrapped(angle: float) -> float:
    """Angle between -pi and pi. [rad]"""
    return (angle + pi) % (2 * pi) - pi


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BrakeCurve:
    """Brake by rate of turn, from the steady turns of one side; the other side mirrors it.

    Attributes
    ----------
    rate : ndarray, shape (n,)
        Towards the brake, rising. [rad/s]
    brake : ndarray, shape (n,)
        Fraction of full travel. [-]
    """

    rate: FloatArray
    brake: FloatArray

    def brakes(self, rate: float) -> tuple[float, float]:
        """Left and right brake for a rate of turn to the left. [rad/s]"""
        if abs(rate) < SMALLEST_RATE:
            return 0.0, 0.0
        pull = float(np.interp(abs(rate), self.rate, self.brake))
        return (pull, 0.0) if rate > 0 else (0.0, pull)


def brake_curve(turns: tuple[SteadyTurn, ...]) -> BrakeCurve:
    """From steady turns under the left brake that are not steep, from where they turn towards it on."""
    kept = list(takewhile(lambda turn: not turn.steep, turns))
    wrong = max((i for i, turn in enumerate(kept) if turn.rate >= 0), default=-1)
    kept = kept[wrong + 1 :]
    return BrakeCurve(
        rate=np.maximum.accumulate([-turn.rate for turn in kept]),
        brake=np.array([turn.brake for turn in kept]),
    )


@dataclass(kw_only=True, eq=False)
class Pilot:
    """Steers one flight by a plan; remembers what it is about and what it has seen.

    Attributes
    ----------
    plan : Plan
        What is flown.
    curve : BrakeCurve
        Of the design.
    target : ndarray, shape (2,)
        North and east. [m]
    phase : {"hold", "downwind", "home"}
        What it is about.
    """

    plan: Plan
    curve: BrakeCurve
    target: FloatArray = field(default_factory=lambda: np.zeros(2))
    phase: Phase = "hold"
    _side: int = 0
    _rate: float = 0.0
    _gain_of_wind: FloatArray = field(default_factory=lambda: np.zeros(2))
    _sink_share: float = 1.0
    _answer: float = 1.0
    _heading: float = 0.0
    _turning: float = 0.0
    _looked: bool = False

    def __call__(self, seen: Seen) -> tuple[float, float]:
        """Left and right brake. [-]"""
        plan, circle = self.plan, self.plan.circle
        speed, sink = self._speeds(seen.height)
        self._learn(seen, speed, sink)
        x, y = self._place_in_air(seen)
        chi = -wrapped(seen.heading - atan2(plan.into[1], plan.into[0]))
        left = plan.glide_ratio * seen.height / self._sink_share - LAG_TIME * plan.forward_speed
        self._decide(x, y, chi, left)
        wanted, turning = self._wanted(x, y, chi, seen.height)
        most = abs(circle.rate)
        self._rate = max(-most, min(most, turning * most + GAIN * wrapped(wanted - chi)))
        return self.curve.brakes(self._rate / self._answer)

    @property
    def _radius(self) -> float:
        """Of the circle: wider than planned where not even the whole brake turns it so. [m]"""
        circle = self.plan.circle
        return circle.radius * max(1.0, abs(circle.rate) / (float(self.curve.rate[-1]) * self._answer))

    def _speeds(self, height: float) -> tuple[float, float]:
        """Forward and down through the air as the plan has them, by how much it turns. [m/s]"""
        descent, circle = self.plan.descent, self.plan.circle
        above = descent.above
        grown = float(np.interp(height, above, descent.airspeed) / descent.airspeed[0])
        part = abs(self._rate / circle.rate)
        forward, sink = self.plan.forward_speed, float(descent.sink[0])
        return (
            grown * (forward + part * (circle.forward_speed - forward)),
            grown * (sink + part**2 * (circle.sink - sink)),
        )

    def _learn(self, seen: Seen, speed: float, sink: float) -> None:
        """Average how the wind and the sink differ from the plan's."""
        if self._looked:
            ahead = np.array([cos(seen.heading), sin(seen.heading)])
            found = np.array(seen.velocity[:2]) - speed * ahead - self._wind(seen.height)
            self._gain_of_wind += EVERY / MEMORY * (found - self._gain_of_wind)
            self._sink_share += EVERY / MEMORY * (seen.velocity[2] / sink - self._sink_share)
            self._learn_turn(seen)
        self._heading = seen.heading
        self._looked = True

    def _learn_turn(self, seen: Seen) -> None:
        """Average how much it turns of what was asked for, once it has been turning for a while."""
        self._turning = self._turning + EVERY if abs(self._rate) > abs(self.plan.circle.rate) / 2 else 0.0
        if self._turning > SHORT_MEMORY / 2:
            turned = -wrapped(seen.heading - self._heading) / EVERY / self._rate
            found = self._answer + EVERY / SHORT_MEMORY * (turned - 1.0) * self._answer
            self._answer = max(1 / MOST_CHANGE, min(MOST_CHANGE, found))

    def _wind(self, height: float) -> FloatArray:
        descent = self.plan.descent
        return np.array([np.interp(height, descent.above, w) for w in descent.wind])

    def _place_in_air(self, seen: Seen) -> tuple[float, float]:
        """Where it is on the plan's axes, the target at the origin. [m]"""
        plan = self.plan
        moved = plan.drift_at(seen.height) + self._gain_of_wind * plan.time_at(seen.height)
        north, east = np.array([seen.north, seen.east]) - self.target + moved / self._sink_share
        a, b = plan.into.tolist()
        return a * north + b * east, b * north - a * east

    def _decide(self, x: float, y: float, chi: float, left: float) -> None:
        """Go on to the next part of the plan when it is time; `left` is what is left of the glide. [m]"""
        plan, circle = self.plan, self.plan.circle
        dearer = circle.sink / circle.forward_speed * plan.glide_ratio
        if self.phase == "hold":
            straight, arriving = self._to_circle(x, y, chi)
            turn = self._radius * ((pi - arriving) % (2 * pi) + pi + 2 * pi * SPARE / 3)
            if left < straight + dearer * turn + FINAL_TIME * plan.forward_speed:
                self.phase = "downwind"
        if self.phase == "downwind":
            ways = {side: way_home(x, y, chi, self._radius, side) for side in (1, -1)}
            home = {side: dearer * arc + straight for side, (arc, straight) in ways.items()}
            side = min(home, key=lambda each: home[each])
            if left <= home[side]:
                self.phase, self._side = "home", side

    def _to_circle(self, x: float, y: float, chi: float) -> tuple[float, float]:
        """Way to where the circle is joined [m], and the heading there. [rad]"""
        distance, bearing = self._from_center(x, y)
        radius = self._radius
        if distance <= NEAR * radius:
            return 0.0, chi
        return sqrt(distance**2 - radius**2), bearing + pi - asin(radius / distance)

    def _from_center(self, x: float, y: float) -> tuple[float, float]:
        """Distance and bearing, from x towards y, from the centre of the circle. [m], [rad]"""
        dx, dy = x + self.plan.final_way, y - self._radius
        return hypot(dx, dy), atan2(dy, dx)

    def _wanted(self, x: float, y: float, chi: float, height: float) -> tuple[float, float]:
        """Heading to turn to [rad], and how much of the full rate is wanted on it. [-]"""
        radius = self._radius
        if self.phase == "hold":
            distance, bearing = self._from_center(x, y)
            if distance > NEAR * radius:
                return bearing + pi - asin(radius / distance), 0.0
            return bearing + pi / 2 + (distance - radius) / radius, 1.0
        if self.phase == "downwind":
            return pi + max(-0.5, min(0.5, (y - 2 * radius) / (2 * radius))), 0.0
        return self._homewards(x, y, chi, height), 0.0

    def _homewards(self, x: float, y: float, chi: float, height: float) -> float:
        """Heading to the target; the nearer to the ground, the nearer into the wind. [rad]"""
        aligned = self.plan.final_height / 2
        wanted = atan2(-y, -x)
        if height < aligned:
            most = pi / 2 * max(height, 0.0) / aligned
            wanted = max(-most, min(most, wanted))
        if self._side and abs(wrapped(wanted - chi)) < pi / 2:
            self._side = 0
        return chi + self._side * pi / 2 if self._side else wanted
