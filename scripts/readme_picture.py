"""The picture at the head of README: heron as sewn, and one drop of it. Written where README shows it.

Run ``python scripts/readme_picture.py`` after a change that moves either.
"""

from pathlib import Path

from parasim import assemble, drop, load_design
from parasim.files import write_together
from parasim.plotting.canopy import QUARTER, canopy_pieces, plot_canopy
from parasim.plotting.drop import plot_side
from parasim.plotting.style import look, new_figure, picture_bytes

ROOT = Path(__file__).parents[1]
PICTURE = ROOT / "parasim/manual/pages/heron.png"


def main() -> None:
    """Draw both side by side, small."""
    vehicle = assemble(load_design(ROOT / "configs/heron.yaml"))
    with look():
        figure = new_figure(8.0, 3.6)
        canopy, side = figure.subplots(1, 2, width_ratios=(1, 1.2))
        plot_canopy(canopy_pieces(vehicle), canopy, QUARTER)
        canopy.set_axis_off()
        canopy.set_title("heron, an invented example: as sewn")
        plot_side(drop(vehicle), side)
        side.set_title("one drop, computed")
        print(*write_together({PICTURE: picture_bytes(figure, "png", dpi=90)}))


if __name__ == "__main__":
    main()
