"""What the servos have to do: force in the brake lines, torque, time."""
