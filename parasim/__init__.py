"""parasim: glide, sink, trim and drops of a small sewn ram-air parafoil.

The names below are what a script needs; each is imported when it is first asked for, so that
``import parasim`` stays light. Nothing inside the package imports from here.

Examples
--------
>>> from parasim import assemble, glide, load_design
>>> flight = glide(assemble(load_design("configs/heron.yaml"))).trim
>>> 3.5 < flight.glide_ratio < 4.5
True
"""

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from parasim.config.design import Design as Design
    from parasim.config.loader import load_design as load_design
    from parasim.config.loader import override as override
    from parasim.config.loader import parse_design as parse_design
    from parasim.dynamics.vehicle import Vehicle as Vehicle
    from parasim.dynamics.vehicle import assemble as assemble
    from parasim.errors import ParasimError as ParasimError
    from parasim.flight.drag import drag as drag
    from parasim.flight.drag import drag_build_up as drag_build_up
    from parasim.flight.drop import Release as Release
    from parasim.flight.drop import drop as drop
    from parasim.flight.flare.flare import flare as flare
    from parasim.flight.glide import glide as glide
    from parasim.flight.landing import landing as landing
    from parasim.flight.opening.opening import opening as opening
    from parasim.flight.release.release import release as release
    from parasim.flight.servo.servo import servo as servo
    from parasim.flight.trim import find_trims as find_trims
    from parasim.flight.trouble.trouble import trouble as trouble
    from parasim.flight.turn.turn import turn as turn
    from parasim.learning.learn import learn as learn
    from parasim.logs.track import track as track
    from parasim.making.build import build as build
    from parasim.making.canopy import canopy as canopy
    from parasim.making.card import card as card
    from parasim.making.cut import cut as cut
    from parasim.making.lines import lines as lines
    from parasim.making.summary import summary as summary
    from parasim.manual.manual import manual as manual
    from parasim.scatter.scatter import scatter as scatter
    from parasim.sewing.templates import templates as templates
    from parasim.study.new import new as new
    from parasim.study.size import size as size
    from parasim.study.sweep import sweep as sweep

__version__ = "0.1.0"

_HOME = {
    "Design": "parasim.config.design",
    "ParasimError": "parasim.errors",
    "Release": "parasim.flight.drop",
    "Vehicle": "parasim.dynamics.vehicle",
    "assemble": "parasim.dynamics.vehicle",
    "build": "parasim.making.build",
    "canopy": "parasim.making.canopy",
    "card": "parasim.making.card",
    "cut": "parasim.making.cut",
    "drag": "parasim.flight.drag",
    "drag_build_up": "parasim.flight.drag",
    "drop": "parasim.flight.drop",
    "find_trims": "parasim.flight.trim",
    "flare": "parasim.flight.flare.flare",
    "glide": "parasim.flight.glide",
    "landing": "parasim.flight.landing",
    "learn": "parasim.learning.learn",
    "lines": "parasim.making.lines",
    "load_design": "parasim.config.loader",
    "manual": "parasim.manual.manual",
    "new": "parasim.study.new",
    "opening": "parasim.flight.opening.opening",
    "override": "parasim.config.loader",
    "parse_design": "parasim.config.loader",
    "release": "parasim.flight.release.release",
    "scatter": "parasim.scatter.scatter",
    "servo": "parasim.flight.servo.servo",
    "size": "parasim.study.size",
    "summary": "parasim.making.summary",
    "sweep": "parasim.study.sweep",
    "templates": "parasim.sewing.templates",
    "track": "parasim.logs.track",
    "trouble": "parasim.flight.trouble.trouble",
    "turn": "parasim.flight.turn.turn",
}
"""Module that defines each public name."""


class _Front(ModuleType):
    """A public name stays what it is where a package bears the same: to import that one would set it here."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _HOME and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Front


def __getattr__(name: str) -> object:
    """Import a public name from the module that defines it."""
    if name not in _HOME:
        raise AttributeError(f"module 'parasim' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    """Names offered on completion."""
    return sorted([*_HOME, "__version__"])
