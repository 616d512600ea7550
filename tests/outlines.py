"""Measures of a section's outline, worked out here and not by the program."""

import numpy as np


def perimeter(outline):
    """Length of the upper and of the lower surface from leading to trailing edge, in chords."""
    nose = int(np.argmin(outline[:, 0]))
    return tuple(
        float(np.hypot(*np.diff(side, axis=0).T).sum()) for side in (outline[: nose + 1], outline[nose:])
    )
