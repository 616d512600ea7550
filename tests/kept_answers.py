"""Answers of one session: a design is assembled once in a process, and asked each question once.

Vehicles and answers are read-only, so tests share them. A test that changes the program (pytest's
``monkeypatch``) has its own made.
"""

from __future__ import annotations

import pickle
from collections import OrderedDict
from collections.abc import Callable
from functools import wraps
from importlib import import_module
from typing import Any

from parasim.config.design import Design
from parasim.dynamics import vehicle as vehicles
from parasim.dynamics.vehicle import Vehicle

QUESTIONS = ("drag", "glide", "servo.servo", "turn.turn", "opening.opening", "drop", "release.release")
"""Modules of `parasim.flight`, each after those that it asks itself. Flares are not shared:
whole modules of tests shorten their search."""
MOST = 24
"""Vehicles that are kept."""


class Kept:
    """Vehicles by their design, each with its answers."""

    def __init__(self) -> None:
        self.sharing = True
        self.by_design: OrderedDict[bytes, tuple[Vehicle, dict[str, Any]]] = OrderedDict()

    def assembling(self, assemble: Callable[..., Vehicle]) -> Callable[..., Vehicle]:
        """`assemble`, but a design that is known is not assembled again."""

        @wraps(assemble)
        def shared(design: Design, *arguments: Any, **options: Any) -> Vehicle:
            if not self.sharing or arguments or options:
                return assemble(design, *arguments, **options)
            key = pickle.dumps(design)
            if b"pathlib" in key:  # what stands in the files that it names may change
                return assemble(design)
            if key not in self.by_design:
                self.by_design[key] = (assemble(design), {})
                while len(self.by_design) > MOST:
                    self.by_design.popitem(last=False)
            self.by_design.move_to_end(key)
            return self.by_design[key][0]

        return shared

    def asking(self, question: Callable[..., Any]) -> Callable[..., Any]:
        """A question, but asked of a vehicle as `assemble` made it, without options, only once."""

        @wraps(question)
        def shared(vehicle: Vehicle, *arguments: Any, **options: Any) -> Any:
            plain = self.sharing and not arguments and not options
            known = self.by_design.get(pickle.dumps(vehicle.design)) if plain else None
            if known is None or known[0] is not vehicle:
                return question(vehicle, *arguments, **options)
            answers = known[1]
            if question.__name__ not in answers:
                answers[question.__name__] = question(vehicle)
            return answers[question.__name__]

        return shared


KEPT = Kept()


def share() -> None:
    """Have vehicles and answers shared; before the modules are imported that ask for them by name."""
    vehicles.assemble = KEPT.assembling(vehicles.assemble)
    for place in QUESTIONS:
        module = import_module(f"parasim.flight.{place}")
        name = place.rpartition(".")[2]
        setattr(module, name, KEPT.asking(getattr(module, name)))
