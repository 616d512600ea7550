"""Sizes of errors: sought on curves that are known, ranked by hand."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest

from parasim.errors import OptionError, TrimError
from parasim.flight.trouble.check import (
    DESIGN,
    PLAUSIBLE,
    Cause,
    Check,
    Curve,
    Figure,
    Words,
    practice,
    ranked,
    sampled,
    settled,
    sized,
    together,
)
from parasim.flight.trouble.symptom import SYMPTOMS, read_seen

WORDS = Words(error="it is wrong", measure="it", remedy="mend")


def figure(level: float, low: float = 9.0, high: float = 11.0, *, rises: bool = False) -> Figure:
    return Figure(words="margin", kind="angle", designed=10.0, level=level, low=low, high=high, rises=rises)


def cause(curve: Curve, likely: float = 1.0, name: str = "one") -> Cause:
    return Cause(name=name, words=WORDS, kind="small_length", likely=likely, curve=curve)


def falling(size: float) -> float:
    return 10.0 - 2.0 * size


def ending_at(edge: float):
    def curve(size: float) -> float:
        if size > edge:
            raise TrimError("no glide")
        return falling(size)

    return curve


def test_the_size_is_where_the_curve_comes_to_the_level():
    assert Curve(falling, 8.0).reaches(4.0) == pytest.approx(3.0, abs=1e-3)
    assert Curve(lambda size: -falling(size), 8.0).reaches(-4.0) == pytest.approx(3.0, abs=1e-3)
    assert Curve(falling, 2.9).reaches(4.0) is None
    assert Curve(falling, 8.0).reaches(10.0) == 0.0


def test_a_flight_that_ceases_near_the_level_counts_as_there_and_one_far_from_it_does_not():
    assert Curve(ending_at(3.5), 8.0).reaches(4.0) == pytest.approx(3.0, abs=1e-3)
    assert Curve(ending_at(2.5), 8.0).reaches(4.0) == pytest.approx(2.5, abs=0.02)
    assert Curve(ending_at(1.0), 8.0).reaches(4.0) is None
    assert Curve(ending_at(2.5), 8.0).reaches(16.0) is None


def test_a_leap_to_another_flight_is_no_answer():
    assert Curve(lambda size: 9.0 if size < 3 else 2.0, 8.0).reaches(4.0) is None
    assert Curve(lambda size: falling(size) if size < 2.5 else 2.0, 8.0).reaches(4.0) == pytest.approx(
        2.5, abs=0.01
    )


def test_a_curve_that_turns_round_is_noticed():
    there_and_back = Curve(lambda size: size * (2.0 - size), 8.0)
    assert there_and_back.reaches(-3.0) == pytest.approx(3.0, abs=1e-3)
    assert there_and_back.both_ways()
    straight = Curve(falling, 8.0)
    straight.reaches(4.0)
    assert not straight.both_ways()


def test_samples_stand_for_the_curve_up_to_where_it_ends():
    smooth = sampled(ending_at(5.0), 8.0, 9)
    assert smooth(2.3) == pytest.approx(falling(2.3))
    assert smooth(4.9) == pytest.approx(falling(4.9))
    assert smooth(5.1) != smooth(5.1)  # nan


def test_band_likely_share_and_times():
    """From 10 down to 4: 3; a canopy that begins at 9 needs 2.5, one at 11 needs 3.5."""
    check = sized(cause(Curve(falling, 8.0), likely=0.6), figure(4.0))
    assert (check.needed, check.low, check.high) == pytest.approx((3.0, 2.5, 3.5), abs=1e-3)
    assert check.share == pytest.approx(0.2)
    assert check.times == pytest.approx(5.0, abs=1e-2)
    assert not check.plausible
    beyond = sized(cause(Curve(falling, 3.2)), figure(4.0))
    assert (beyond.low, beyond.high) == (pytest.approx(2.5, abs=1e-3), inf)


def test_an_end_of_the_band_that_is_in_trouble_by_itself_needs_nothing():
    assert sized(cause(Curve(falling, 8.0)), figure(4.0, low=3.0)).low == 0.0


def test_a_design_in_trouble_by_itself_is_the_answer():
    assert settled(figure(10.5), list) == [DESIGN]
    assert settled(figure(9.5, rises=True), list) == [DESIGN]
    assert not figure(4.0).already
    assert ranked([practice("p", "e", "m", "d"), DESIGN])[0] is DESIGN


def check(name: str, needed: float | None, likely: float = 1.0, share: float = 0.1) -> Check:
    return Check(
        name=name, words=WORDS, basis="COMPUTED", kind="small_length", needed=needed, likely=likely,
        bound=20.0, share=share,
    )  # fmt: skip


def test_order():
    """What is plausible by times, then the trade, then what takes a blunder, then what cannot."""
    checks = [
        check("cannot", None), check("blunder", 2 * PLAUSIBLE), practice("trade", "e", "m", "d"),
        check("small tolerance", 1.0, likely=0.3), check("large tolerance", 3.0, likely=2.0),
        check("large tolerance", 9.0, likely=2.0),
    ]  # fmt: skip
    found = ranked(checks)
    assert [one.name for one in found] == [
        "large tolerance", "small tolerance", "trade", "blunder", "cannot",
    ]  # fmt: skip
    assert found[0].needed == 3.0


def test_what_is_in_doubt_comes_after_its_kind():
    doubted = replace(check("doubted", 0.5), doubt="ambiguous")
    checks = [doubted, practice("trade", "e", "m", "d"), check("sure", 3.0)]
    assert [one.name for one in ranked(checks)] == ["sure", "doubted", "trade"]


def test_together():
    """3-4-5; what works the other way adds nothing."""
    checks = [check("a", 1.0, share=0.3), check("b", None, share=0.4), check("c", None, share=-0.2)]
    assert together([*checks, practice("p", "e", "m", "d"), check("d", None, share=nan)]) == pytest.approx(
        (0.7, 0.5)
    )


@pytest.mark.parametrize("symptom", SYMPTOMS, ids=lambda symptom: symptom.name)
def test_every_symptom_is_read_by_all_its_names(symptom):
    for name in (symptom.name, *symptom.also, symptom.name.upper(), f"  {symptom.name} "):
        assert read_seen(name).symptom is symptom


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("turns left 10 deg/s", 0.174533),
        ("turns left at 36 s", 0.174533),
        ("turns right 0.5 min", 0.2094395),
        ("turns left", 0.174533),
        ("dives 10 ft/s", 3.048),
        ("hangs back at 6.5 m/s", 6.5),
        ("opens hard 60 lbf", 266.893),
        ("opens hard 20 kg", 196.133),
        ("rocks in roll 2.2 s", 2.2),
        ("will not flare 5 ft/s", 1.524),
        ("dives", None),
    ],
)
def test_amounts(text, amount):
    found = read_seen(text).amount
    assert found == (None if amount is None else pytest.approx(amount, rel=1e-4))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("bananas", "not a symptom known here; use turns left, turns right, dives, "),
        ("turns", "could be several; use turns left, turns right"),
        ("rocks in", "could be several; use rocks in pitch, rocks in roll"),
        ("10 deg/s", "not a symptom known here"),
        ("turns left 10", '10 of what? write "turns left 10 deg/s"'),
        ("turns left 10 m/s", "is a speed; use a turn rate"),
        ("turns left 0.1 deg/s", "too small"),
        ("turns left 1 s", "too small"),
        ("dives 3 kg", "is a mass; use a speed"),
        ("dives -3 m/s", "too small"),
        ("one side collapses 3 m/s", "takes no amount; leave it out"),
        ("opens hard 1e9 N", "too large"),
    ],
)
def test_mistakes(text, said):
    with pytest.raises(OptionError) as caught:
        read_seen(text)
    assert str(caught.value).startswith(f'SYMPTOM: given "{text}", ')
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
