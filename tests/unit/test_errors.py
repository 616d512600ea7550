"""Errors: what they say, and that they survive the way between processes."""

import pickle

from parasim.errors import DesignError, Mistake, OutOfRangeError, ParasimError, TrimError


def test_a_mistake_is_one_line_whatever_it_holds() -> None:
    mistake = Mistake(
        file="a.yaml", line=3, key="x", given='"1\n2\x07"', problem="a mass", hint="use a length"
    )
    assert str(mistake) == r'a.yaml:3: x: given "1\n2\x07", a mass; use a length'
    assert str(Mistake(problem="is empty")) == "is empty"


def test_a_file_is_named_where_none_was() -> None:
    error = DesignError(Mistake(key="a"), Mistake(key="b", file="other.yaml")).in_file("heron.yaml")
    assert str(error) == "heron.yaml: a\nother.yaml: b"


def test_errors_can_be_pickled() -> None:
    for error in (
        DesignError(Mistake(key="a", problem="odd")),
        OutOfRangeError("height", 30e3, low=0, high=20e3, unit="m"),
        TrimError("no steady flight"),
    ):
        back = pickle.loads(pickle.dumps(error))
        assert isinstance(back, ParasimError)
        assert (type(back), str(back)) == (type(error), str(error))
