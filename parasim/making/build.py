"""The build sheet: order, test ladder and checklists of a design."""

from dataclasses import dataclass

from parasim.answer import Answer
from parasim.caveats import said
from parasim.drawing.printing import PagePaper
from parasim.dynamics.vehicle import Vehicle
from parasim.environment.atmosphere import GRAVITY
from parasim.flight.build import BuildFlight, Descents, build_flight
from parasim.flight.drop import CAUTIONS, Drop
from parasim.flight.lines import ASYMMETRY
from parasim.flight.opening.opening import Opening
from parasim.flight.release.release import packed_height
from parasim.ladder.build_page import Pages
from parasim.ladder.checklists import checklists
from parasim.ladder.expectations import Arrival, DropNumbers, FlightNumbers, Limits, OpeningNumbers
from parasim.ladder.ladder import ladder
from parasim.making.lines import line_sheet
from parasim.sewing.line_sheet import LineSheet
from parasim.sewing.order.build_order import build_order
from parasim.sewing.order.job import Job
from parasim.sewing.templates import Templates, templates
from parasim.units import System


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Build(Answer):
    """Answer to `parasim build`, before it is put into words.

    Attributes
    ----------
    flight : BuildFlight
        What flies, and how.
    templates : Templates
        Every piece of cloth.
    line_sheet : LineSheet
        Every line.
    design_file : str
        As it was given.
    paper : {"a4", "letter"} or None
        To print on; None: as the units asked for have it.
    """

    REPORT = "parasim.report.build:BuildReport"

    flight: BuildFlight
    templates: Templates
    line_sheet: LineSheet
    design_file: str
    paper: PagePaper | None

    @property
    def vehicle(self) -> Vehicle:
        """What flies."""
        return self.flight.vehicle

    @property
    def caveats(self) -> tuple[str, ...]:
        """What to keep in mind, in sentences."""
        return tuple(dict.fromkeys([*self.templates.caveats, *self.flight.caveats]))

    def job(self, system: System) -> Job:
        """What is to be built; sizes in sentences in these units."""
        vehicle = self.vehicle
        mass = {item.name: item.properties.mass for item in vehicle.items}
        lines, payload = mass.pop("lines"), mass.pop("payload")
        return Job(
            templates=self.templates,
            line_set=vehicle.line_set,
            line_sheet=self.line_sheet,
            rigging_angle=vehicle.rigging.rigging_angle,
            line_length=vehicle.rigging.line_length,
            cloth_mass=sum(mass.values()),
            line_mass=lines,
            payload_mass=payload,
            left_right=ASYMMETRY,
            system=system,
        )

    def pages(self, system: System) -> Pages:
        """Steps, rungs and checklists in these units."""
        job, numbers, design = self.job(system), flight_numbers(self.flight), self.vehicle.design
        limits = design.landing
        return Pages(
            name=design.name,
            facts=_facts(job),
            steps=build_order(job),
            rungs=ladder(
                numbers,
                Limits(
                    sink=limits.max_sink,
                    ground_speed=limits.max_ground_speed,
                    energy=limits.max_energy,
                    load=limits.max_load,
                ),
                pack=design.opening.pack,
                steered=design.servo is not None,
                system=system,
            ),
            checklists=checklists(job, numbers, self.design_file),
            cautions=CAUTIONS,
            caveats=tuple(said(caveat, system) for caveat in self.caveats),
            system=system,
        )


def build(vehicle: Vehicle, *, design_file: str = "", paper: PagePaper | None = None) -> Build:
    """Build order, test ladder and checklists.

    Parameters
    ----------
    vehicle : Vehicle
        Assembled from the design.
    design_file : str
        Named in the checklists; by default called like the design.
    paper : {"a4", "letter"}, optional
        To print on; by default as the units asked for have it.

    Raises
    ------
    TrimError
        If there is no stable steady glide with the brakes released.
    DesignError
        If the pack does not fall behind the payload, or the cloth cannot be cut.
    """
    pieces, flight = templates(vehicle.design), build_flight(vehicle)
    return Build(
        flight=flight,
        templates=pieces,
        line_sheet=line_sheet(vehicle, flight.trim),
        design_file=design_file or f"{vehicle.design.name}.yaml",
        paper=paper,
    )


def _facts(job: Job) -> tuple[str, ...]:
    return (
        f"{job.say(job.canopy.flat_area, 'area')} flat area (bottom-skin span along the arc x mean chord), "
        f"{job.say(job.all_up_mass, 'mass')} all up.",
        "Order and tolerances are common practice or our own choice, without source; sizes are those of "
        "parasim templates and parasim lines, flight figures those of parasim glide, drop and opening.",
    )


def flight_numbers(flight: BuildFlight) -> FlightNumbers:
    """Plain numbers for the ladder."""
    trim, vehicle, found = flight.trim, flight.vehicle, flight.bands.figures
    half, lines = flight.half_brake, vehicle.mass - vehicle.design.payload.mass
    band = {name: (figure.low, figure.high) for name, figure in found.items()}
    return FlightNumbers(
        airspeed=trim.airspeed,
        forward_speed=trim.forward_speed,
        sink=trim.sink,
        glide_ratio=trim.glide_ratio,
        glide_angle=trim.glide_angle,
        airspeed_band=band["airspeed"],
        forward_band=band["forward_speed"],
        sink_band=band["sink"],
        glide_ratio_band=band["glide_ratio"],
        energy_band=band["energy"],
        energy=found["energy"].value,
        weight=vehicle.weight,
        canopy_weight=lines * GRAVITY,
        half_brake=None if half is None else (half.airspeed, half.sink),
        wind_limit=flight.wind_limit,
        wind_height=flight.wind_height,
        site_wind=flight.site_wind,
        dive=flight.dive,
        drops=tuple(_drop_numbers(descents) for descents in flight.descents),
        opening=_opening_numbers(flight.opening),
        packed_height=packed_height(flight.opening, flight.plan),
    )


def _drop_numbers(descents: Descents) -> DropNumbers:
    return DropNumbers(
        height=descents.height,
        still=_arrival(descents.still),
        windy=_arrival(descents.windy),
        wind=descents.wind,
        unopened_sink=descents.unopened.sink,
        unopened_energy=descents.unopened.energy,
    )


def _arrival(drop: Drop | None) -> Arrival | None:
    touchdown = None if drop is None else drop.touchdown
    if drop is None or touchdown is None:
        return None
    return Arrival(
        time=drop.time_aloft,
        distance=drop.distance,
        sink=touchdown.sink,
        ground_speed=touchdown.ground_speed,
        energy=touchdown.energy,
    )


def _opening_numbers(opening: Opening) -> OpeningNumbers:
    now = opening.now
    return OpeningNumbers(
        release_height=opening.release_height,
        release_speed=now.designed.release_speed,
        peak=now.designed.peak,
        snatch=now.designed.snatch[0],
        peak_band=now.peak_band,
        height_to_full=now.designed.height_to_full,
        full_band=now.height_band,
        height_to_glide=opening.height_to_glide,
        minimum_release=opening.minimum_release_height,
    )
