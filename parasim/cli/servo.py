"""``parasim servo``: force in the brake lines, and the servo that pulls them."""

from typing import TYPE_CHECKING

from parasim.cli.run import command
from parasim.config.design import Design

if TYPE_CHECKING:
    from parasim.flight.servo.servo import Servo


@command("pulling")
def servo(design: Design) -> "Servo":
    """Brake-line force and travel, torque through the servo's sweep, its margin, time and what it can hold.

    Without a servo section in the design: what a servo has to do. Example: parasim servo configs/heron.yaml
    --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.servo.servo import servo as servo_of

    return servo_of(assemble(design))
