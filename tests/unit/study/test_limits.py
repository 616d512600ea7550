"""Limits on outputs: how they are read, refused and missed."""

import pytest

from parasim.errors import OptionError
from parasim.study.limits import Limit, check_limits, read_limit, read_names

READ = [
    ("glide>=2.5", "glide", True, 2.5),
    (" sink <= 10 ft/s ", "sink", False, 3.048),
    ("landing_energy<20 J", "landing_energy", False, 20.0),
    ("servo_torque<=4 kgf cm", "servo_torque", False, 0.392266),
    ("turn_rate>20 deg/s", "turn_rate", True, 0.3490659),
    ("stall_margin>=6 deg", "stall_margin", True, 0.1047198),
    ("wing_loading<=20 N/m^2", "wing_loading", False, 20.0),
    ("landing_load<=40", "landing_load", False, 40.0),
    ("area<=6 ft^2", "area", False, 0.5574182),
]


@pytest.mark.parametrize(("text", "name", "at_least", "value"), READ, ids=[row[0] for row in READ])
def test_limits_are_read(text, name, at_least, value):
    limit = read_limit(text)
    assert (limit.name, limit.at_least) == (name, at_least)
    assert limit.value == pytest.approx(value, rel=1e-6)


REFUSED = [
    ("glide", "no limit; use one such as"),
    ("glide=2.5", "no limit"),
    ("glyde>=2.5", 'given "glyde", no such output; did you mean glide'),
    ("sink<=3 kg", "a mass; use a speed"),
    ("sink<=slow", "not a speed"),
    ("turn_rate>=20", "a turn rate without its unit"),
    ("stall_margin>=6", "an angle without its unit"),
    ("landing_energy<=20 N", "a force; use an energy"),
    ("zzz<=1", "no such output; use mass, area"),
]


@pytest.mark.parametrize(("text", "told"), REFUSED, ids=[row[0] for row in REFUSED])
def test_refusals(text, told):
    with pytest.raises(OptionError) as caught:
        read_limit(text)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_names_are_refused_with_near_ones():
    with pytest.raises(OptionError, match="did you mean glide"):
        read_names("sink,glid")
    with pytest.raises(OptionError, match="given nothing"):
        read_names(" , ")


def test_shortfall_is_over_the_limit_itself():
    minimum, most = read_limit("glide>=2.5"), read_limit("sink<=2 m/s")
    assert minimum.shortfall(2.0) == pytest.approx(0.2)
    assert most.shortfall(3.0) == pytest.approx(0.5)
    assert minimum.kept(2.5)
    assert not most.kept(float("nan"))
    assert Limit(name="tuck_margin", at_least=True, value=0.0).shortfall(-0.0174532925) == pytest.approx(1.0)


def test_limits_against_each_other():
    check_limits([read_limit("sink<=3 m/s"), read_limit("sink>=2 m/s"), read_limit("glide>=2")])
    with pytest.raises(OptionError, match=r"no value is both sink >= 3\.00 m/s and sink <= 2\.00 m/s"):
        check_limits([read_limit("sink<=2 m/s"), read_limit("sink>=3 m/s")])
    with pytest.raises(OptionError, match="given twice"):
        check_limits([read_limit("sink<=2 m/s"), read_limit("sink<=3 m/s")])
