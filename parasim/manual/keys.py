"""Keys of the design file from the specs: limits from the marks, meanings from the text below each field."""

import ast
import inspect
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from textwrap import dedent
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel

from parasim.config.base import Quantity, WholeNumber
from parasim.config.calibration import DEFAULTS, INLET_DRAG, CalibratedNumber
from parasim.config.design import Design
from parasim.config.notes import Notes
from parasim.errors import OptionError, plain


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """A key of the design file.

    Attributes
    ----------
    name : str
        Dotted.
    limits : str
        In words; empty for text and for what has none.
    meaning : str
        A sentence or more; empty where the part it belongs to says it.
    """

    name: str
    limits: str
    meaning: str


def keys(spec: type[BaseModel] = Design, prefix: str = "") -> Iterator[Key]:
    """Every key that holds a value, in the order of the specs."""
    for name, info in spec.model_fields.items():
        key, said = f"{prefix}{info.alias or name}", meanings(spec).get(name, "")
        below = [one for one in specs_in(info.annotation) if one is not CalibratedNumber]
        if below and not said:
            for one in below:
                yield from keys(one, f"{key}.")
        else:
            yield Key(name=key, limits=limits(name, [info.annotation, *info.metadata]), meaning=said)


def limits(name: str, annotation: Any) -> str:
    """Limits of a field from its annotation, or the words it takes; a calibration's default and range."""
    marks = list(marks_in(annotation))
    if CalibratedNumber in marks and name in DEFAULTS:
        usual = DEFAULTS[name]
        return f"{usual.value:g}, {usual.low:g} to {usual.high:g}"
    if CalibratedNumber in marks and name == "inlet_drag_factor":
        return "; ".join(
            f"{kind} {one.value:g}, {one.low:g} to {one.high:g}" for kind, one in INLET_DRAG.items()
        )
    for mark in marks:
        if isinstance(mark, Quantity):
            return mark.limits()
        if isinstance(mark, WholeNumber):
            return f"{mark.low} to {mark.high}"
    words = [word for mark in marks if _is_literal(mark) for word in get_args(mark)]
    return ", ".join(str(word) for word in words)


def marks_in(annotation: Any) -> Iterator[Any]:
    """Marks, types and literals in an annotation, from the outside in."""
    for one in annotation if isinstance(annotation, list) else [annotation]:
        yield getattr(one, "func", one)  # a mark of pydantic's wraps one of ours
        if not _is_literal(one):
            yield from marks_in(list(get_args(one)))


def _is_literal(annotation: object) -> bool:
    literal: object = Literal
    return get_origin(annotation) is literal


def specs_in(annotation: Any) -> list[type[BaseModel]]:
    """Specs in an annotation, unions and lists looked through."""
    return [one for one in marks_in(annotation) if isinstance(one, type) and issubclass(one, BaseModel)]


@cache
def meanings(spec: type[BaseModel]) -> dict[str, str]:
    """Text below each field of a spec, in its source, those it inherits too."""
    found: dict[str, str] = {}
    for owner in reversed(spec.__mro__):
        if owner in (BaseModel, object) or not issubclass(owner, BaseModel):
            continue
        body = ast.parse(dedent(inspect.getsource(owner))).body[0]
        assert isinstance(body, ast.ClassDef)
        for field, text in zip(body.body, body.body[1:], strict=False):
            if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                said = text.value if isinstance(text, ast.Expr) else None
                if isinstance(said, ast.Constant) and isinstance(said.value, str):
                    found[field.target.id] = " ".join(said.value.split())
    return found


def keys_page(part: str = "") -> str:
    """Table of the keys below a dotted one, or of all.

    Raises
    ------
    OptionError
        If no key begins so.
    """
    return (
        "# Keys of the design file\n\n"
        "Beyond its limits a value is refused. Some keys may be left out; where that is so, it says what is\n"
        "taken instead. An unknown key is an error, and every key changes some result. A calibration is a\n"
        "number, or `{value:, low:, high:}` to set its range as well; default and range stand as limits.\n"
        "Where it comes from may be added, `from: text`.\n\n" + _table(Design, part, "design file")
    )


def notes_page(part: str = "") -> str:
    """Table of the keys of a notes file; as `keys_page`."""
    return (
        "# Keys of a notes file\n\n"
        "What was measured in flight, for `parasim learn`. Each entry of `measured` has one quantity, each\n"
        "of `by_hand` is a timed descent, circles, or a glide over the ground.\n\n"
        + _table(Notes, part, "notes file")
    )


def _table(spec: type[BaseModel], part: str, file: str) -> str:
    wanted = [key for key in keys(spec) if not part or f"{key.name}.".startswith(f"{part}.")]
    if not wanted:
        sections = ", ".join(dict.fromkeys(key.name.partition(".")[0] for key in keys(spec)))
        raise OptionError(f'PART: given "{plain(part)[:60]}", no key of the {file}; use {sections}')
    rows = "\n".join(f"| `{key.name}` | {key.limits} | {key.meaning} |" for key in wanted)
    return f"| key | limits | meaning |\n| --- | --- | --- |\n{rows}\n"
