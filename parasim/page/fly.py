"""Fly it before you sew it: a drop of the design on the page, flown by two keys or two sticks.

The server flies (`parasim.flight.live`); the browser asks for a moment with each picture, and draws it.
"""

import asyncio
from collections.abc import Callable
from math import cos, isfinite, sin
from time import monotonic
from typing import TYPE_CHECKING, Any

from nicegui import ui
from nicegui.element import Element
from nicegui.elements.scene import scene as _three  # noqa: F401  makes three.js known to the page
from nicegui.events import GenericEventArguments

from parasim.caveats import CAUTION
from parasim.config.design import Design
from parasim.errors import ParasimError, first_line, plain
from parasim.files import write_new
from parasim.page.elements import button
from parasim.page.trial import Built
from parasim.plotting.scene import Scene
from parasim.units import System, show

if TYPE_CHECKING:
    from parasim.flight.live import LiveFlight
    from parasim.page.window import Window

SHOWN_EVERY = 0.2
"""Between changes of the figures that are shown. Our choice. [s]"""

LONGEST_TICK = 1.0
"""Of the clock that one question can ask for. Our choice. [s]"""

WIDE, WIDEST_FIELD = 3.0, 600.0
"""Half the side of the grid on the ground, over the height of the release, and at most. Our choice. [m]"""

AHEAD, RIGHT = 1.0, 0.5
"""Where the pilot stands without a target, from under the release, over its height. Our choice. [-]"""

MAPS = (50.0, 100.0, 200.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0, 12800.0, 25600.0, 51200.0)
"""Widths of the map; the least that holds everything is drawn. Our choice. [m]"""

EYES_HIGH = 1.7
"""Eyes of the pilot above the ground. [m]"""

PACES = {1.0: "", 0.5: " at half speed", 0.25: " at a quarter of the speed"}
"""Of the flight over the clock, one after the other, and words for them. Our choice. [-]"""

KEY_WORDS = (
    "Hold Left or F for the left brake, Right or J for the right one: held, a brake is pulled further, the "
    "whole travel in a second; let go of, it lets up. Down or B pulls both as the flare of the file does. R "
    "lets go, P pauses, S slows down, V changes the view. Sticks of a gamepad: pulled towards you they pull "
    "the brakes; the first button lets go."
)
ARROW_WORDS = (
    "The arrow beside its shadow, and the one on the map, point where the wind blows; the wind shown is the "
    "mean one where it flies, without gusts. Height is that of the payload's underside."
)
EYES = {
    "ground": f"Seen from where the pilot stands, as through field glasses. {ARROW_WORDS}",
    "chase": f"Seen from behind. {ARROW_WORDS}",
}


class Stage(Element, component="fly.js", esm={"parasim-parts": "parts"}):
    """The vehicle over the ground; what it does in the browser stands in `fly.js` beside it.

    Parameters
    ----------
    label : str
        What it shows, in words.
    on_ready : callable
        Called once it can show something.
    on_tick : callable
        Called with what a moment asks for: ``seconds`` since the last one; ``left``, ``right`` and ``both``,
        keys that are held; ``sticks``, two pulls or None.
    on_act : callable
        Called with what a key asks for: ``release``, ``pause``, ``slow``, ``ground`` or ``chase``.
    """

    def __init__(
        self,
        label: str,
        *,
        on_ready: Callable[[], Any],
        on_tick: Callable[[dict[str, Any]], Any],
        on_act: Callable[[str], Any],
    ) -> None:
        super().__init__()
        self._props["label"] = label

        def ticked(event: GenericEventArguments) -> Any:
            return on_tick(event.args)

        def acted(event: GenericEventArguments) -> Any:
            return on_act(str(event.args))

        self.on("ready", lambda _: on_ready())
        self.on("tick", ticked)
        self.on("act", acted)

    def show(self, scene: Scene, ground: dict[str, Any]) -> None:
        """Set the stage: a vehicle, and what lies on the ground."""
        self.run_method("show", scene.document(), ground)

    def pose(self, moment: dict[str, Any]) -> None:
        """Draw a moment."""
        self.run_method("pose", moment)

    def blow(self, words: str, north: float, east: float) -> None:
        """Show the wind where it flies, in words and by the arrow on the map. [m/s]"""
        self.run_method("blow", words, north, east)

    def view(self) -> None:
        """Look from the other place."""
        self.run_method("view")


class Hangar:
    """The panel of one window: a button, and the dialog in which the design is flown.

    Parameters
    ----------
    window : Window
        Whose design is flown, and whose directory a log is saved in.
    """

    def __init__(self, window: "Window") -> None:
        self.window, self.desk = window, window.desk
        self.flight: LiveFlight | None = None
        self._stage: Stage | None = None
        self._built: Built = window.trial.built
        self._staged, self._shown_at, self._scored = False, 0.0, False
        with ui.element("section").classes("fly").props('aria-label="Fly it"'):
            ui.label("Fly it before you sew it").props("role=heading aria-level=2").classes("answer")
            ui.label("A drop of this design in real time, its two brakes in your hands.").classes("small")
            button("Fly this design", self._open)
        self._build()

    def _build(self) -> None:
        with ui.dialog().props("maximized persistent") as self._dialog, ui.card().classes("flying"):
            ui.label("parasim has stopped: this flight is at an end.").classes("ended").props("role=alert")
            with ui.element("div").classes("flyroom"):
                with ui.element("div").classes("flyhead"):
                    self._head = ui.label("").props("role=heading aria-level=2").classes("name")
                    self._air = ui.label("").classes("small")
                self._state = ui.label("").props("role=status").classes("answer state")
                with ui.element("div").classes("flymain"):
                    self._place = ui.element("div").classes("flyplace")
                    with ui.element("div"):
                        self._figures = ui.element("dl").classes("instruments")
                        self._score = ui.element("ul").classes("score").props("role=status")
                with ui.element("div").classes("acts").props("role=toolbar aria-label=Flight"):
                    self._release = button("Let go (R)", lambda: self._act("release"))
                    self._pause = button("Pause (P)", lambda: self._act("pause"))
                    self._slow = button("Slower (S)", lambda: self._act("slow"))
                    button("Other view (V)", self._look)
                    button("Again, as in the file", lambda: self._begin(glide=False))
                    button("Again, in the steady glide", lambda: self._begin(glide=True))
                    self._save = button("Save as a log", self._write)
                    button("Close", self._close)
                self._eyes = ui.label(EYES["ground"]).classes("small")
                ui.label(KEY_WORDS).classes("small keys")
            ui.label(CAUTION).classes("cautions").props("role=note")

    # A flight

    async def _open(self) -> None:
        self._dialog.open()
        await self._begin(glide=False)

    def _close(self) -> None:
        self.flight = None
        self._place.clear()
        self._dialog.close()

    async def _begin(self, *, glide: bool) -> None:
        """Hang the design up at its release, or in the glide there."""
        built = self._built = self.window.trial.built
        self.flight, self._staged, self._scored = None, False, False
        self._head.set_text(built.design.name)
        self._state.set_text("Getting ready.")
        self._score.clear()
        self._place.clear()
        loop = asyncio.get_running_loop()
        try:
            flight = await loop.run_in_executor(self.desk.pool, _flight_of, built.design, glide)
        except ParasimError as error:
            self._state.set_text(first_line(error))
            return
        if built is not self._built or not self._dialog.value:
            return
        self.flight = flight
        with self._place:
            self._stage = Stage(
                "The design in flight over a field", on_ready=self._set, on_tick=self._tick, on_act=self._act
            )

    def _look(self) -> None:
        if self._stage is not None and self._staged:
            self._stage.view()

    def _set(self) -> None:
        if self.flight is None or self._stage is None:
            return
        from parasim.report.live import air_words

        self._air.set_text(air_words(self.flight, self.desk.units))
        self._stage.show(self._built.scene, _ground(self.flight, self.desk.units))
        self._staged = True
        self._show()

    def _tick(self, asked: dict[str, Any]) -> None:
        flight = self.flight
        if flight is None or self._stage is None or not self._staged:
            return
        seconds = min(max(_number(asked.get("seconds")), 0.0), LONGEST_TICK)
        flight.pull(*_command(flight, asked, flight.pace * seconds))
        flight.pass_time(seconds)
        if flight.ended or monotonic() - self._shown_at > SHOWN_EVERY:
            self._show()
        else:
            self._stage.pose(_moment(flight))

    def _act(self, name: str) -> None:
        flight = self.flight
        if name in EYES:
            self._eyes.set_text(EYES[name])
        if flight is None or not self._staged:
            return
        if name == "release":
            flight.release()
        elif name == "pause":
            flight.paused = not flight.paused
        elif name == "slow":
            paces = list(PACES)
            flight.pace = paces[(paces.index(flight.pace) + 1) % len(paces)]
        self._show()

    # What is shown

    def _show(self) -> None:
        flight = self.flight
        if flight is None or self._stage is None:
            return
        from parasim.report.live import instruments, wind_words

        self._shown_at = monotonic()
        self._stage.pose(_moment(flight))
        self._stage.blow(wind_words(flight, self.desk.units), *flight.vehicle.wind.velocity(_height(flight)))
        self._state.set_text(_state(flight))
        self._release.set_enabled(not flight.released)
        for each in (self._pause, self._slow):
            each.set_enabled(flight.released and not flight.ended)
        self._save.set_enabled(flight.time > 0.0)
        self._figures.clear()
        with self._figures:
            for name, figure in instruments(flight, self.desk.units).items():
                with ui.element("dt"):
                    ui.label(name)
                with ui.element("dd").props(f'data-figure="{name}"'):
                    ui.label(figure)
        if flight.ended and not self._scored:
            self._say_landing(flight)

    def _say_landing(self, flight: "LiveFlight") -> None:
        """How it ended."""
        from parasim.report.live import landing_words

        self._scored = True
        with self._score:
            for sentence in landing_words(flight, self.desk.units):
                with ui.element("li"):
                    ui.label(sentence)

    async def _write(self) -> None:
        """Save the log under a name that is free, in the window's directory."""
        flight = self.flight
        if flight is None:
            return
        from parasim.report.live import log_name, log_text

        directory = self.desk.directory
        names = (log_name(flight, number) for number in range(1, 10_000))
        path = next(directory / name for name in names if not (directory / name).exists())
        try:
            write_new(path, log_text(flight).encode())
        except ParasimError as error:
            self._state.set_text(first_line(error))
            return
        self._state.set_text(f"wrote {plain(str(path))}")


def _flight_of(design: Design, glide: bool) -> "LiveFlight":
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.drop import release_of
    from parasim.flight.live import LiveFlight, gliding

    vehicle = assemble(design)
    release = release_of(vehicle)
    return LiveFlight(vehicle, gliding(release) if glide else release)


def _command(flight: "LiveFlight", asked: dict[str, Any], seconds: float) -> tuple[float, float]:
    """What sticks or keys command now."""
    from parasim.flight.live import by_flare, by_keys, flare_of

    sticks = asked.get("sticks")
    if isinstance(sticks, list) and len(sticks) == 2:
        return _number(sticks[0]), _number(sticks[1])
    if asked.get("both"):
        left, right = by_flare(flight.command, flare_of(flight.vehicle), seconds).tolist()
    else:
        held = bool(asked.get("left")), bool(asked.get("right"))
        left, right = by_keys(flight.command, held, seconds).tolist()
    return left, right


def _moment(flight: "LiveFlight") -> dict[str, Any]:
    """Place and attitude of canopy and payload, as `fly.js` needs them."""
    pose = flight.pose
    return {
        "place": pose.confluence.tolist(),
        "turn": pose.attitude.tolist(),
        "foot": pose.foot.tolist(),
        "hung": pose.payload_attitude.tolist(),
        "moving": flight.flying,
    }


def _ground(flight: "LiveFlight", units: System) -> dict[str, Any]:
    """What lies on the ground, north, east and down, where the pilot stands, and the wind there. [m], [m/s]

    The pilot stands at the target; without one ahead of the release and to the right of its heading.
    """
    target, spec, begins = flight.target, flight.vehicle.design.scatter.target, flight.begins
    c, s = cos(begins.heading), sin(begins.heading)
    ahead, right = AHEAD * begins.height, RIGHT * begins.height
    return {
        "target": None if target is None else [*target, 0.0],
        "near": 0.0 if spec is None else spec.radius,
        "pilot": [*(target or (ahead * c - right * s, ahead * s + right * c)), 0.0],
        "reach": min(WIDE * begins.height + 30.0, WIDEST_FIELD),
        "eyes": EYES_HIGH,
        "wind": [*flight.vehicle.wind.velocity(EYES_HIGH), 0.0],
        "far": [show(size, "length", units, digits=0) for size in MAPS],
        "maps": list(MAPS),
    }


def _state(flight: "LiveFlight") -> str:
    if flight.ended:
        return f"Ended: {flight.ending}."
    if not flight.released:
        return "Held at its release. Let go when you are ready."
    return f"{'Paused' if flight.paused else 'Flying'}{PACES[flight.pace]}."


def _height(flight: "LiveFlight") -> float:
    """Of the confluence above the ground. [m]"""
    return max(float(flight.now.height[0]), 0.0)


def _number(value: object) -> float:
    """A number of the browser's; zero for anything else."""
    return float(value) if isinstance(value, int | float) and isfinite(value) else 0.0
