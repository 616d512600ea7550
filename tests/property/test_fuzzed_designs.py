"""Whatever is written in a design file, the answer is a design or a DesignError, never another exception."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parasim.config.design import Design
from parasim.config.loader import design_document, load_design, override, parse_design
from parasim.errors import DesignError

REFERENCE = Path(__file__).resolve().parents[1] / "data" / "reference.yaml"
TEXT = REFERENCE.read_text(encoding="utf-8")
RELAXED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=100)

ODD = [
    "1 m", "-3 mm", "1e400 kg", "6 deg", "40 %", "5 K", "1 degC", "2s: L 1 R 0", "0.1 ft^3/min/ft^2",
    "1 mol", "flush", "rest", "velocity", "A", ".nan", "1 m/0", "3 (m)", "1 %%", "1 °", "1 µm", "5 m^-1",
    "1 dB", "1 pH",
]  # fmt: skip
LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12), st.sampled_from(ODD)
)
VALUES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.one_of(st.text(max_size=6), st.sampled_from("ABCD")), inner, max_size=4),
    ),
    max_leaves=8,
)


def _places(data: Any, place: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every key and list entry of the document."""
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [found for key, value in items for found in [(*place, key), *_places(value, (*place, key))]]


PLACES = _places(yaml.safe_load(TEXT))


def _refusal(build: Callable[[], Design]) -> DesignError | None:
    """The error, if there is one; any other exception fails the test."""
    try:
        build()
    except DesignError as error:
        return error
    return None


def _design_or_refusal(text: str) -> None:
    error = _refusal(lambda: parse_design(text, name="fuzzed.yaml"))
    if error is None:
        design = parse_design(text)
        assert Design.model_validate(design_document(design)) == design
        assert all(isinstance(warning, str) for warning in design.warnings())
        return
    assert error.mistakes
    for line in str(error).split("\n"):
        assert line.startswith("fuzzed.yaml")
        assert line.isprintable()


@RELAXED
@given(text=st.text(max_size=200))
def test_random_text(text: str) -> None:
    _design_or_refusal(text)


@RELAXED
@given(content=st.binary(max_size=200))
def test_random_bytes(content: bytes, tmp_path_factory: Any) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzzed.yaml"
    path.write_bytes(content)
    assert _refusal(lambda: load_design(path)) is not None


@RELAXED
@given(data=st.dictionaries(st.sampled_from([*Design.model_fields, "x"]), VALUES, max_size=6))
def test_random_values_under_real_keys(data: dict[str, Any]) -> None:
    _design_or_refusal(yaml.safe_dump(data, allow_unicode=True))


@RELAXED
@given(changes=st.lists(st.tuples(st.sampled_from(PLACES), VALUES), min_size=1, max_size=3))
def test_a_good_file_with_spoilt_values(changes: list[tuple[tuple[Any, ...], Any]]) -> None:
    data = yaml.safe_load(TEXT)
    for (*parents, last), value in changes:
        place = data
        for key in parents:
            try:
                place = place[key]
            except (KeyError, IndexError, TypeError):
                place = None
                break
        if isinstance(place, dict | list) and (isinstance(place, dict) or last in range(len(place))):
            place[last] = value
    _design_or_refusal(yaml.safe_dump(data, allow_unicode=True))


@RELAXED
@given(
    cut=st.tuples(st.integers(0, len(TEXT)), st.integers(0, 40)),
    put=st.one_of(
        st.text(max_size=8),
        st.sampled_from([": ", "\n", "\t", "- ", "&a ", "*a", "{", "}", "[", "!x ", "%", "'"]),
    ),
)
def test_a_good_file_with_spoilt_text(cut: tuple[int, int], put: str) -> None:
    start, length = cut
    _design_or_refusal(TEXT[:start] + put + TEXT[start + length :])


@RELAXED
@given(place=st.sampled_from(PLACES), key=st.text(max_size=10), value=VALUES)
def test_overrides(reference: Design, place: tuple[Any, ...], key: str, value: Any) -> None:
    for dotted in (".".join(map(str, place)), f"{place[0]}.{key}", key):
        error = _refusal(lambda dotted=dotted: override(reference, {dotted: value}))
        assert error is None or str(error)
