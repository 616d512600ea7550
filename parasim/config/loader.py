"""From a design file to a Design, with one line for each mistake."""

import json
from collections.abc import Mapping
from contextlib import suppress
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from parasim.config.design import Design
from parasim.config.document import Document, read_document
from parasim.config.quantity import InvalidValue
from parasim.errors import DesignError, Mistake

LARGEST_FILE = 64_000
"""Larger than any sensible design file. [bytes]"""

Read = TypeVar("Read", bound=BaseModel)
_Place = tuple[str | int, ...]
_SHOWN_LENGTH = 60
_EXAMPLES = {
    "payload.mass": "1.2 kg", "payload.size": "[0.22 m, 0.12 m, 0.12 m]", "canopy.span": "1.10 m",
    "canopy.chord": "0.50 m", "canopy.cells": "7",
    "canopy.airfoil": "{family: flat-bottomed, thickness: 15 %}",
    "canopy.inlet": "{kind: flush, height: 4 %}", "canopy.crossports": "{count: 3, diameter: 6 %}",
    "canopy.cloth": "{areal_weight: 40 g/m^2, permeability: 0.5 ft^3/min/ft^2}", "name": "heron",
    "lines.rows": "{A: 10 %, B: 35 %, C: 60 %, D: 85 %}", "lines.diameter": "0.8 mm",
    "lines.linear_density": "0.5 g/m", "lines.riser": "{length: 0.15 m, spread: 0.10 m}",
    "brakes.span_fraction": "40 %", "brakes.travel": "120 mm", "brakes.branches": "3",
}  # fmt: skip


def load_design(path: str | Path) -> Design:
    """Read a design file.

    Parameters
    ----------
    path : str or Path
        A YAML file in UTF-8.

    Returns
    -------
    Design

    Raises
    ------
    DesignError
        With one line for each mistake: file, line, key, what was given and what would be right.
    """
    path = Path(path)
    return parse_design(read_text(path), name=path.name, directory=path.parent)


def parse_design(text: str, name: str = "design", directory: str | Path = ".") -> Design:
    """Read a design from text.

    Parameters
    ----------
    text : str
        YAML.
    name : str
        Name given in messages.
    directory : str or Path
        Where a coordinate file is looked for.

    Returns
    -------
    Design

    Raises
    ------
    DesignError
        With one line for each mistake.
    """
    return validated(read_document(text, name), Path(directory))


def override(design: Design, changes: Mapping[str, object]) -> Design:
    """Return a checked copy with some keys changed.

    Parameters
    ----------
    design : Design
        Left as it is.
    changes : mapping
        Dotted key to value, written as in the file: ``{"lines.rigging_angle": "7 deg"}``. None takes the key
        out. Entries of lists are counted from 0: ``lines.cascades.0.height``.

    Returns
    -------
    Design

    Raises
    ------
    DesignError
        When a key does not exist or the changed design does not hold together.
    """
    data = design_document(design)
    for key, value in changes.items():
        set_key(data, key, value)
    return validated(Document(name=design.name, data=data, lines={}), Path())


def design_document(design: Design) -> dict[str, Any]:
    """Return the design as plain data, as it could be written to a file; what was left out stays out."""
    return design.model_dump(mode="json", by_alias=True, exclude_unset=True)


def read_text(path: Path) -> str:
    """Text of a design file.

    Raises
    ------
    DesignError
        When it cannot be read, or is far too large for one.
    """
    if "\0" in str(path):
        raise DesignError(Mistake(problem="no such file", hint="give the path of a YAML file"))
    try:
        if path.is_dir():
            raise _unreadable(path, "a directory", "give the path of a YAML file in it")
        if not path.is_file():
            raise _unreadable(path, "no such file", _near(path))
        if path.stat().st_size > LARGEST_FILE:
            raise _unreadable(path, f"larger than {LARGEST_FILE // 1000} kB", "give a design file")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _unreadable(path, f"not UTF-8 text (byte {error.start})", "save it as UTF-8") from None
    except OSError as error:
        raise _unreadable(
            path, f"cannot be read ({error.strerror})", "check its name and permissions"
        ) from None


def _unreadable(path: Path, problem: str, hint: str) -> DesignError:
    return DesignError(Mistake(file=_short(str(path)), problem=problem, hint=hint))


def _near(path: Path) -> str:
    found: dict[str, Path] = {}
    for folder in (path.parent / "configs", path.parent):
        with suppress(OSError):
            found |= {p.stem: p for p in folder.iterdir() if p.suffix in {".yaml", ".yml"}}
    close = get_close_matches(path.stem, found, n=1)
    return f"did you mean {found[close[0]]}?" if close else "give the path of a YAML file"


def set_key(data: dict[str, Any], key: str, value: object) -> None:
    """Set a dotted key in plain data, in place; None takes it out.

    Raises
    ------
    DesignError
        When there is no such place.
    """
    *parents, last = key.split(".")
    place: Any = data
    for part in parents:
        if isinstance(place, list) and part.isdigit() and int(part) < len(place):
            place = place[int(part)]
        elif isinstance(place, dict):
            if place.get(part) is None:
                place[part] = {}
            place = place[part]
        else:
            place = None
        if not isinstance(place, dict | list):
            raise DesignError(Mistake(key=key, problem="no such key", hint=f"{part} has no keys below it"))
    if isinstance(place, dict) and value is None:
        place.pop(last, None)
    elif isinstance(place, dict):
        place[last] = value
    elif last.isdigit() and int(last) < len(place) and value is not None:
        place[int(last)] = value
    else:
        raise DesignError(
            Mistake(key=key, problem="no such entry", hint=f"the list has {len(place)} entries")
        )


def validated(document: Document, directory: Path) -> Design:
    """Design in a document, a coordinate file looked for in the directory.

    Raises
    ------
    DesignError
        With one line for each mistake.
    """
    return checked(Design, document, directory)


def checked(spec: type[Read], document: Document, directory: Path) -> Read:
    """A document as what it is to be; else as `validated`."""
    try:
        return spec.model_validate(document.data, context={"directory": directory})
    except ValidationError as error:
        details = [dict(detail) for detail in error.errors(include_url=False)]
    mistakes = [_mistake(detail, document, spec) for detail in details if not _only_follows(detail)]
    raise DesignError(*sorted(mistakes, key=lambda mistake: mistake.line or 0))


def _only_follows(detail: dict[str, Any]) -> bool:
    """Whether a list counts as too short only because its entries are refused: reported by itself."""
    return detail["type"] == "too_short" and bool(len(detail["input"]) >= detail["ctx"]["min_length"])


def _mistake(detail: dict[str, Any], document: Document, root: type[BaseModel]) -> Mistake:
    """Turn one pydantic error into a line a maker can act on."""
    place: _Place = detail["loc"]
    if detail["type"] != "extra_forbidden" and place[-1:] == ("[key]",):
        place = place[:-1]  # how pydantic marks that the key itself, not its value, is wrong
    invalid = detail.get("ctx", {}).get("error")
    if isinstance(invalid, InvalidValue):
        place += tuple(int(part) if part.isdigit() else part for part in invalid.key.split(".") if part)
        given = invalid.given
        if given is None:
            given = _show(document.at(place) if invalid.key else detail["input"])
        problem, hint = invalid.problem, invalid.hint
    else:
        given, problem, hint = _plain_words(detail, place, root)
    return Mistake(
        file=document.name,
        line=document.line(place),
        key=_dotted(place),
        given=given,
        problem=problem,
        hint=hint,
    )


def _plain_words(detail: dict[str, Any], place: _Place, root: type[BaseModel]) -> tuple[str, str, str]:
    """What was given, what is wrong with it, what would be right; for the checks pydantic makes itself."""
    kind, context, given = detail["type"], detail.get("ctx", {}), _show(detail["input"])
    match kind:
        case "missing":
            example = _EXAMPLES.get(_dotted(place))
            keys = _keys_of(_spec_at(place, root))
            wanted = (
                f" such as {place[-1]}: {example}" if example else f" with the keys {keys}" if keys else ""
            )
            return "", "missing", f"add it{',' if wanted else ''}{wanted}"
        case "extra_forbidden":
            return "", "unknown key", _suggestion(place, root)
        case "literal_error":
            return given, "not a choice here", f"use {context['expected'].replace(chr(39), '')}"
        case "model_type" | "model_attributes_type" | "dict_type" | "mapping_type":
            keys = _keys_of(_spec_at(place, root))
            return (
                given,
                "not a mapping",
                f"use keys below it: {keys}" if keys else "use a mapping such as {A: 10 %}",
            )
        case "tuple_type" | "list_type":
            return given, "not a list", "use a list such as [a, b]"
        case "too_short" | "too_long":
            bound = "at least" if kind == "too_short" else "at most"
            wanted = context.get("min_length" if kind == "too_short" else "max_length")
            return given, f"entries: {len(detail['input'])}", f"give {bound} {wanted}"
        case "bool_parsing" | "bool_type":
            return given, "neither true nor false", "write one of them"
        case "string_type":
            return given, "not text", "put it in quotes"
        case "string_too_long" | "string_too_short":
            return given, "text too long or empty", f"use 1 to {context.get('max_length', 2000)} characters"
        case "string_pattern_mismatch":
            return given, "not a plain name", "use letters and digits, beginning with a letter"
        case _:
            return given, str(detail["msg"]).lower(), ""


def _suggestion(place: _Place, root: type[BaseModel]) -> str:
    """Offer the closest key here, or the same key where it belongs."""
    spec = _spec_at(place[:-1], root)
    key = str(place[-1])
    here = _key_names(spec)
    close = get_close_matches(key.lower(), here, n=1) or [
        name for name in here if key.lower() in name.split("_")
    ]
    if close:
        return f"did you mean {close[0]}?"
    if place == ("canopy", "mass"):
        return "a weighed canopy goes into notes, as as_built.canopy_mass (parasim manual learn)"
    elsewhere = [f"{name}.{key}" for name in _key_names(root) if key in _key_names(_spec_at((name,), root))]
    if elsewhere:
        return f"did you mean {elsewhere[0]}?"
    return f"use {', '.join(here)}" if here else "remove it"


def _spec_at(place: _Place, root: type[BaseModel]) -> type[BaseModel] | None:
    """Spec class that a place in the file is read by."""
    spec: type[BaseModel] | None = root
    for part in place:
        if isinstance(part, int):
            continue
        fields = {field.alias or name: field for name, field in (spec.model_fields if spec else {}).items()}
        spec = _spec_in(fields[part].annotation) if part in fields else None
    return spec


def _spec_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((spec for spec in map(_spec_in, get_args(annotation)) if spec), None)


def _key_names(spec: type[BaseModel] | None) -> list[str]:
    return [field.alias or name for name, field in spec.model_fields.items()] if spec else []


def _keys_of(spec: type[BaseModel] | None) -> str:
    return ", ".join(_key_names(spec))


def _dotted(place: _Place) -> str:
    return ".".join(_short(str(part)) for part in place)


def _show(given: object) -> str:
    """Return what was given, quoted when it is text, and cut short when it is long."""
    if given is None:
        return "nothing"
    return _short(json.dumps(given, ensure_ascii=False, default=str))


def _short(text: str) -> str:
    return text if len(text) <= _SHOWN_LENGTH else text[: _SHOWN_LENGTH - 1] + "…"
