"""One browser window: the drawing, its fields, the rulers, and what may be done with them."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nicegui import background_tasks, ui

from parasim.caveats import CAUTION, said
from parasim.errors import DesignError, ParasimError, first_line, plain
from parasim.page.background import Background
from parasim.page.drawing import Drawing
from parasim.page.elements import button
from parasim.page.fly import Hangar
from parasim.page.knobs import Knob, knobs
from parasim.page.trial import Trial
from parasim.units import System

if TYPE_CHECKING:
    from parasim.making.rulers import Ruler
    from parasim.page.board import Board
    from parasim.page.figures import Followed

WATCH = 1.0
"""Between looks at the file. [s]"""

KEY_WORDS = (
    "Drag a handle on the drawing, or go to it with Tab and use the arrow keys; or type into a field, with "
    "its unit, and press Enter. Ctrl-Z undoes, Ctrl-Y does again."
)
RULER_WORDS = (
    "Grey: the band; black bar: the figure; dashed bar: the figure before; notch: the limit, its flag "
    "towards the side that keeps it. A dashed band is stale: the new one is being worked out."
)
EARLIER = "of an earlier design"


@dataclass(frozen=True, kw_only=True)
class Desk:
    """What all windows share.

    Attributes
    ----------
    path : Path
        Of the design file.
    directory : Path
        Where new design files go; nothing is written elsewhere.
    units : {"metric", "imperial"}
        Of what is shown.
    background : Background
        For slow figures.
    pool : ThreadPoolExecutor
        For quick ones.
    """

    path: Path
    directory: Path
    units: System
    background: Background
    pool: ThreadPoolExecutor


class Window:
    """State and elements of one window.

    Parameters
    ----------
    desk : Desk
        Shared.
    trial : Trial
        Its own design.
    """

    def __init__(self, desk: Desk, trial: Trial) -> None:
        self.desk, self.trial = desk, trial
        ui.context.client.on_delete(self._leave)
        self._gone = False
        self._troubles: list[str] = []
        self._version = 0
        self._stroke = ""
        self._board: Board | None = None
        self._fields: dict[str, ui.input] = {}
        self._shown: dict[str, str] = {}
        self._noted: tuple[str, ...] = ()
        self._changing = asyncio.Lock()
        self._ready = False

    def _leave(self) -> None:
        self._gone = True

    # Elements

    def build(self) -> None:
        """Lay out the page."""
        with ui.element("div").classes("bar"):
            ui.label(CAUTION).classes("caution").props("role=note")
            ui.label(
                "parasim has stopped: nothing here is worked out any more. Start it again to go on; what was "
                "not saved is lost."
            ).classes("ended").props("role=alert")
        name = plain(self.trial.path.name)
        with ui.element("header"):
            ui.label(self.trial.built.design.name).props("role=heading aria-level=1").classes("name")
            ui.label(self.trial.built.design.description).classes("what")
            with ui.element("div").classes("acts").props("role=toolbar aria-label=Changes"):
                self._undo = button("Undo", self._step_back)
                self._redo = button("Redo", self._step_forward)
                button("Save as a new design file", self._ask_name)
            self._file = ui.label(f"Begun from {name}, which stays as it is.")
            self._file.classes("small").props("role=status")
        self._news = ui.element("div").classes("news").props("role=alert")
        with ui.element("div").classes("bench"):
            with ui.element("section").classes("picture"):
                self._drawing = Drawing(
                    "Canopy, lines and payload", on_ready=self._start, on_turn=self._turned,
                    on_undo=self._step_back, on_redo=self._step_forward,
                )  # fmt: skip
                with ui.element("div").classes("views").props("role=toolbar aria-label=Views"):
                    for view in ("quarter", "front", "side", "above"):
                        button(view, lambda view=view: self._drawing.look(view))
                ui.label(KEY_WORDS).classes("small")
            with ui.element("section").classes("figures"):
                self._answer = (
                    ui.label("Figures are being worked out.").classes("answer").props("role=status")
                )
                self._rulers = ui.html("", sanitize=False).classes("rulers")
                self._follows = ui.label("").classes("small").props("role=status")
                ui.label(RULER_WORDS).classes("small")
                self._notes = ui.element("ul").classes("small")
                self._list = ui.element("div").classes("fields").props('role=group aria-label="Keys"')
                Hangar(self)
        self._dialog()
        self._fill()
        ui.timer(WATCH, self._watch)

    def _fill(self) -> None:
        """Fields of the keys that the design has."""
        self._list.clear()
        self._fields.clear()
        with self._list:
            for knob in knobs(self.trial.built):
                field = ui.input(label=knob.words).props(
                    f'outlined dense hide-bottom-space data-key="{knob.key}" autocomplete=off'
                )
                field.on("keydown.enter", lambda _, key=knob.key: self._typed(key))
                field.on("blur", lambda _, key=knob.key: self._typed(key))
                self._fields[knob.key] = field
        self._show_fields(knobs(self.trial.built))

    def _dialog(self) -> None:
        with ui.dialog() as self._saving, ui.card().classes("saving"):
            ui.label("Save as a new design file").props("role=heading aria-level=2")
            ui.label(
                f"It goes into {plain(str(self.desk.directory))}; a file that is there is never replaced."
            )
            self._name = ui.input(label="name").props("outlined dense autofocus autocomplete=off")
            self._name.on("keydown.enter", self._save)
            self._name.on("focus", js_handler="(event) => event.target.select()")
            with ui.element("div").classes("acts"):
                button("Save", self._save)
                button("Do not save", self._saving.close)

    # What is shown

    def _show(self) -> None:
        """The present design: fields first, then the drawing."""
        found = knobs(self.trial.built)
        self._show_fields(found)
        self._show_state()
        self._drawing.show(self.trial.built.scene, found, self.desk.units)

    def _show_fields(self, found: list[Knob]) -> None:
        for knob in found:
            field, text = self._fields[knob.key], knob.text(knob.value, self.desk.units)
            refused = self.trial.refused.get(knob.key)
            self._shown[knob.key] = text if refused is None else refused[0]
            field.set_value(self._shown[knob.key])
            field.error = None if refused is None else f"{refused[1]} (still {text})"

    def _show_state(self) -> None:
        self._undo.set_enabled(self.trial.can_undo)
        self._redo.set_enabled(self.trial.can_redo)
        notes = self.trial.built.notes
        if notes == self._noted:
            return
        self._noted = notes
        self._notes.clear()
        with self._notes:
            for note in notes:
                with ui.element("li"):
                    ui.label(said(note, self.desk.units))

    def _show_rulers(self) -> None:
        if self._board is not None:
            self._rulers.set_content(self._board.html(self.desk.units))

    # Changes

    async def _start(self) -> None:
        self._drawing.show(self.trial.built.scene, knobs(self.trial.built), self.desk.units)
        self._show_state()
        if not self._ready:
            self._ready = True
            await self._work_out("")

    async def _turned(self, asked: dict[str, Any]) -> None:
        knob = next((each for each in knobs(self.trial.built) if each.key == asked["key"]), None)
        if knob is not None:
            text = knob.text(float(asked["value"]), self.desk.units)
            await self._change(knob, text, str(asked["stroke"]), int(asked["number"]))

    async def _typed(self, key: str) -> None:
        text = str(self._fields[key].value or "")
        if text != self._shown[key]:
            knob = next(each for each in knobs(self.trial.built) if each.key == key)
            await self._change(knob, text, "")

    async def _change(self, knob: Knob, text: str, stroke: str, number: int = 0) -> None:
        async with self._changing:
            taken = await self._in_pool(
                partial(self.trial.set, knob.key, text, stroke=stroke, words=knob.words)
            )
            if taken:
                await self._work_out(stroke)
            # Figures go first: the browser may be slow to draw.
            self._drawing.answered(number)
            if taken:
                self._show()
            else:
                self._show_fields(knobs(self.trial.built))

    async def _step_back(self) -> None:
        await self._step(self.trial.undo)

    async def _step_forward(self) -> None:
        await self._step(self.trial.redo)

    async def _step(self, move: Callable[[], bool]) -> None:
        async with self._changing:
            moved = move()
            if moved:
                await self._work_out("")
            self._show()

    async def _in_pool(self, work: Callable[..., Any], *given: Any) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self.desk.pool, work, *given)

    # Figures

    async def _work_out(self, stroke: str) -> None:
        """Quick figures of the present design now, slow ones in the background."""
        self._version += 1
        version, design = self._version, self.trial.built.design
        if self._board is not None:
            if not stroke or stroke != self._stroke:
                self._board.mark()
            self._board.outdate()
        self._stroke = stroke
        try:
            found: tuple[Ruler, ...] = await self._in_pool(_quick, design)
        except ParasimError as error:
            self._answer.set_text(first_line(error))
            self._follows.set_text("")
            if self._board is not None:
                self._board.outdate(EARLIER)
            self._show_rulers()
            return
        if self._board is None:
            from parasim.page.board import Board

            self._board = Board()
        self._board.quick(found)
        self._answer.set_text(_answer(found, self.desk.units))
        self._show_rulers()
        self._troubles.clear()
        self._follows.set_text(_awaited(""))

        def current() -> bool:
            return version == self._version and not self._gone

        background_tasks.create(
            self.desk.background.follow(design, current, lambda stage: self._followed(version, stage))
        )

    def _followed(self, version: int, found: "Followed") -> None:
        if version != self._version or self._board is None or self._gone:
            return
        self._board.take(found.stage, found.rulers)
        if found.trouble:
            self._troubles.append(f"{found.stage}: {found.trouble}")
        rest = [] if found.last else [_awaited(found.stage)]
        self._follows.set_text(" ".join([*self._troubles, *rest]))
        self._show_rulers()

    # Files

    def _ask_name(self) -> None:
        self._name.error = None
        self._name.set_value(self.trial.free_name(self.desk.directory))
        self._saving.open()

    async def _save(self) -> None:
        try:
            path = await self._in_pool(self.trial.save, str(self._name.value or ""), self.desk.directory)
        except ParasimError as error:
            self._name.error = first_line(error)
            return
        self._saving.close()
        ui.notify(f"wrote {plain(str(path))}")
        self._file.set_text(
            f"Begun from {plain(self.trial.path.name)}, which stays as it is; saved as {plain(path.name)}: "
            "what you change from now on is not in it until you save again."
        )

    def _watch(self) -> None:
        news = self.trial.news()
        if not news:
            return
        self._news.clear()
        with self._news:
            name = plain(self.trial.path.name)
            if news == "gone":
                ui.label(f"{name} is no longer there, or cannot be read; what is here stays.")
            else:
                ui.label(f"{name} was changed on disk.")
                button("Reload it (changes made here are dropped)", self._reload)
            button("Keep what is here", self._news.clear)

    async def _reload(self) -> None:
        async with self._changing:
            try:
                await self._in_pool(self.trial.reload)
            except DesignError as error:
                self._news.clear()
                with self._news:
                    ui.label(first_line(error))
                    button("Keep what is here", self._news.clear)
                return
            self._news.clear()
            self._fill()
            self._show()
            await self._work_out("")


def _quick(design: Any) -> "tuple[Ruler, ...]":
    from parasim.page.figures import quick

    return quick(design)


def _awaited(stage: str) -> str:
    """What still has to come after a stage, in words; after none, all of it."""
    from parasim.page.figures import SLOW

    stages = [*SLOW]
    return f"Still being worked out: {', '.join(stages[stages.index(stage) + 1 :] if stage else stages)}."


def _answer(found: "tuple[Ruler, ...]", units: System) -> str:
    """The glide in a sentence, with the digits of `parasim glide`."""
    from parasim.page.figures import answer

    return answer(found, units)
