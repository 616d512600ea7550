"""Keys of the design file: which there are, and what each takes."""

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from parasim.config.base import Quantity, WholeNumber
from parasim.config.calibration import CalibratedNumber
from parasim.config.design import Design


def near_keys(key: str) -> list[str]:
    """Keys of a design file that look like this one, nearest first."""
    known = list(all_keys())
    last = key.rpartition(".")[2]
    same_end = [name for name in known if name.rpartition(".")[2] == last]
    by_end = {name.rpartition(".")[2]: name for name in known}
    near_end = [by_end[end] for end in get_close_matches(last, by_end, n=2, cutoff=0.75)]
    return list(dict.fromkeys(same_end + get_close_matches(key, known, n=2, cutoff=0.7) + near_end))[:3]


def all_keys(spec: type[BaseModel] = Design, prefix: str = "") -> Iterator[str]:
    """Dotted keys of all single values; a number that may bring its own range counts as one."""
    for name, info in spec.model_fields.items():
        key = prefix + (info.alias or name)
        below = _spec_within(info.annotation)
        if below is None or below is CalibratedNumber or _is_list(info.annotation):
            yield key
        else:
            yield from all_keys(below, key + ".")


def look_up(key: str) -> tuple[bool, Quantity | WholeNumber | None, tuple[str, ...]]:
    """Whether a dotted key exists, the mark of the number it takes, the words it takes.

    Examples
    --------
    >>> look_up("canopy.span")[1].limits()
    '0.2 to 5 m'
    >>> look_up("opening.slider")[2]
    ('true', 'false')
    """
    annotation: Any = Design
    marks: list[Any] = []
    for part in key.split("."):
        spec = _spec_within(annotation)
        if (_is_list(annotation) and part.isdigit()) or (_is_mapping(annotation) and part):
            annotation, marks = _entry(annotation)
        elif spec is not None and not _is_list(annotation):
            fields = {info.alias or name: info for name, info in spec.model_fields.items()}
            if part not in fields:
                return False, None, ()
            annotation, marks = fields[part].annotation, list(fields[part].metadata)
        else:
            return False, None, ()
    if _spec_within(annotation) is CalibratedNumber:
        annotation, marks = None, list(CalibratedNumber.model_fields["value"].metadata)
    if _is_list(annotation) or _is_mapping(annotation) or _spec_within(annotation):
        return True, None, ()
    marks += list(_marks(annotation))
    mark = next((mark for mark in marks if isinstance(mark, Quantity | WholeNumber)), None)
    mark = mark or next((m.func for m in marks if isinstance(getattr(m, "func", None), WholeNumber)), None)
    return True, mark, _choices(annotation)


def keys_below(key: str) -> str:
    """Keys that a section has, or the entries of a list."""
    below = [name for name in all_keys() if name.startswith(key + ".")]
    return " or ".join(below[:3]) if below else f"{key}.0 and so on, or what lies below it"


def _entry(annotation: Any) -> tuple[Any, list[Any]]:
    """What the entries of a list or the values of a mapping are."""
    for part in (annotation, *get_args(annotation)):
        if get_origin(part) is tuple:
            return get_args(part)[0], list(_marks(get_args(part)[0]))
        if get_origin(part) is Mapping:
            return get_args(part)[1], list(_marks(get_args(part)[1]))
    return None, []


def _is_list(annotation: Any) -> bool:
    return any(get_origin(part) is tuple for part in (annotation, *get_args(annotation)))


def _is_mapping(annotation: Any) -> bool:
    return any(get_origin(part) is Mapping for part in (annotation, *get_args(annotation)))


def _spec_within(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((spec for spec in map(_spec_within, get_args(annotation)) if spec), None)


def mark_in(info: FieldInfo) -> Quantity:
    """Mark of a field that holds a quantity, or nothing."""
    marks = [*info.metadata, *_marks(info.annotation)]
    return next(mark for mark in marks if isinstance(mark, Quantity))


def _marks(annotation: Any) -> Iterator[Any]:
    yield from getattr(annotation, "__metadata__", ())
    for part in get_args(annotation):
        yield from getattr(part, "__metadata__", ())


def _choices(annotation: Any) -> tuple[str, ...]:
    for part in (annotation, *get_args(annotation)):
        if part is bool:
            return ("true", "false")
        if get_origin(part) is Literal:
            return tuple(str(word) for word in get_args(part))
    return ()
