"""What the test ladder is made of: plain numbers, handed in from flight. SI and radians."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One drop: time [s], distance [m], sink and ground speed at touchdown [m/s], energy [J]."""

    time: float
    distance: float
    sink: float
    ground_speed: float
    energy: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DropNumbers:
    """What is expected of drops from one height.

    Attributes
    ----------
    height : float
        Of the payload's lower face. [m]
    still, windy : Arrival or None
        Canopy full but hanging still at release, brakes released: in still air, and facing the site's wind.
    wind : float
        Of the site, mean over the height. [m/s]
    unopened_sink, unopened_energy : float
        At the ground if it does not open. [m/s], [J]
    """

    height: float
    still: Arrival | None
    windy: Arrival | None
    wind: float
    unopened_sink: float
    unopened_energy: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningNumbers:
    """From a packed canopy.

    Attributes
    ----------
    release_height : float
        From which it was worked out. [m]
    release_speed : float
        [m/s]
    peak, snatch : float
        Opening load and snatch. [N]
    peak_band : (float, float)
        [N]
    height_to_full : float
        Lost until the canopy is full. [m]
    full_band : (float, float)
        Of it. [m]
    height_to_glide, minimum_release : float or None
        Lost until the steady glide, and minimum release height; None where that was not reached. [m]
    """

    release_height: float
    release_speed: float
    peak: float
    snatch: float
    peak_band: tuple[float, float]
    height_to_full: float
    full_band: tuple[float, float]
    height_to_glide: float | None
    minimum_release: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightNumbers:
    """What the ladder is made of, SI and radians.

    Attributes
    ----------
    airspeed, forward_speed, sink : float
        Glide with the brakes released, at the ground. [m/s]
    glide_ratio, glide_angle : float
        [-], [rad]
    airspeed_band, forward_band, sink_band, glide_ratio_band, energy_band : (float, float)
        Of the same. [m/s], [-], [J]
    energy : float
        Brakes released in still air. [J]
    weight, canopy_weight : float
        Of all that flies; of canopy and lines. [N]
    half_brake : (float, float) or None
        Airspeed and sink with both brakes at half travel. [m/s]
    wind_limit : float
        Wind against which it still makes headway, some kept in hand. [m/s]
    wind_height : float or None
        Where that is measured; None for the height it flies in. [m]
    site_wind : float or None
        At the wind's reference height. [m/s]
    dive : float or None
        Height lost from rest in still air until the dive ends. [m]
    drops : tuple of DropNumbers
        From the balcony, low and high.
    opening : OpeningNumbers
        From the highest of them.
    packed_height : float or None
        Least of a packed release, to open and fly the plan; None where that is not known. [m]
    """

    airspeed: float
    forward_speed: float
    sink: float
    glide_ratio: float
    glide_angle: float
    airspeed_band: tuple[float, float]
    forward_band: tuple[float, float]
    sink_band: tuple[float, float]
    glide_ratio_band: tuple[float, float]
    energy_band: tuple[float, float]
    energy: float
    weight: float
    canopy_weight: float
    half_brake: tuple[float, float] | None
    wind_limit: float
    site_wind: float | None
    dive: float | None
    drops: tuple[DropNumbers, ...]
    opening: OpeningNumbers
    wind_height: float | None = None
    packed_height: float | None = None

    def pull(self, wind: float) -> float:
        """Pull at the riser ends of a canopy kited in a wind: W (V/V_glide)² - W_c. [N]

        As if at the angle of attack of the glide; the payload's drag is in it, a few parts in a hundred.
        """
        return max(self.weight * (wind / self.airspeed) ** 2 - self.canopy_weight, 0.0)

    @property
    def carrying_wind(self) -> float:
        """Wind that carries the canopy alone. [m/s]"""
        return float(self.airspeed * (self.canopy_weight / self.weight) ** 0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the payload can take by its design; None where nothing is said. [m/s], [J], weights"""

    sink: float | None = None
    ground_speed: float | None = None
    energy: float | None = None
    load: float | None = None
