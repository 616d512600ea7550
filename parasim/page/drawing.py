"""The drawing as an element of the page; what it does in the browser stands in `drawing.js` beside it."""

from collections.abc import Callable
from typing import Any

from nicegui.element import Element
from nicegui.elements.scene import scene as _three  # noqa: F401  makes three.js known to the page
from nicegui.events import GenericEventArguments

from parasim.page.knobs import Knob
from parasim.plotting.scene import Scene
from parasim.units import System


class Drawing(Element, component="drawing.js", esm={"parasim-parts": "parts"}):
    """Canopy, lines and payload, with handles.

    Parameters
    ----------
    label : str
        What it shows, in words.
    on_ready : callable
        Called once it can show a scene.
    on_turn : callable
        Called with what a handle asks for: ``key``, ``value`` [SI], ``stroke`` and ``number``.
    on_undo, on_redo : callable
        Called when these are asked for by the keyboard.
    """

    def __init__(
        self,
        label: str,
        *,
        on_ready: Callable[[], Any],
        on_turn: Callable[[dict[str, Any]], Any],
        on_undo: Callable[[], Any],
        on_redo: Callable[[], Any],
    ) -> None:
        super().__init__()
        self._props["label"] = label

        def turned(event: GenericEventArguments) -> Any:
            return on_turn(event.args)

        self.on("ready", lambda _: on_ready())
        self.on("turn", turned)
        self.on("undo", lambda _: on_undo())
        self.on("redo", lambda _: on_redo())

    def show(self, scene: Scene, knobs: list[Knob], units: System) -> None:
        """Draw a scene with its handles."""
        self.run_method("show", scene.document(), [knob.document(units) for knob in knobs])

    def answered(self, number: int) -> None:
        """Say that the figures of a question are on the page, so that the next one may come."""
        self.run_method("answered", number)

    def look(self, view: str) -> None:
        """Look from ``quarter``, ``front``, ``side`` or ``above``, all of it in view."""
        self.run_method("look", view)
