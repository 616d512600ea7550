import numpy as np
import pytest

from parasim.drawing.drawing import Drawing, Label, Path

TRIANGLE = np.array([[0.0, 0.0], [3.0, 0.0], [0.0, 4.0]])


def test_a_closed_path_comes_back_to_its_start():
    assert Path(points=TRIANGLE, closed=True, kind="cut").length == pytest.approx(12.0)
    assert Path(points=TRIANGLE, closed=False, kind="cut").length == pytest.approx(8.0)


def test_box_holds_paths_and_labels():
    label = Label(text="abc", at=(10.0, 0.0), height=5.0)
    drawing = Drawing(title="t", paths=(Path(points=TRIANGLE, closed=True, kind="cut"),), labels=(label,))
    box = drawing.box
    assert (box.left, box.top) == (0.0, 4.0)
    assert box.right == pytest.approx(10 + 3 * 0.6 * 5)
    assert box.bottom < 0


def test_moving_keeps_measures():
    drawing = Drawing(title="t", paths=(Path(points=TRIANGLE, closed=True, kind="cut"),)).moved(-7.0, 2.0)
    box = drawing.box
    assert (box.left, box.bottom, box.width, box.height) == (-7.0, 2.0, 3.0, 4.0)
    assert drawing.paths[0].length == pytest.approx(12.0)


@pytest.mark.parametrize("anchor", ["start", "middle", "end"])
@pytest.mark.parametrize("angle", [0.0, 0.7, np.pi / 2])
def test_a_mirrored_label_takes_the_mirrored_room(anchor, angle):
    label = Label(text="nose", at=(10.0, 3.0), height=4.0, angle=angle, anchor=anchor)
    room = {tuple(np.round(corner, 9)) for corner in label.corners * [-1, 1]}
    assert {tuple(np.round(corner, 9)) for corner in label.mirrored().corners} == room


def test_mirroring_twice_changes_nothing():
    label = Label(text="nose", at=(10.0, 3.0), height=4.0, angle=0.3, anchor="end")
    drawing = Drawing(title="t", paths=(Path(points=TRIANGLE, closed=True, kind="sew"),), labels=(label,))
    again = drawing.mirrored().mirrored()
    assert np.array_equal(again.paths[0].points, TRIANGLE)
    assert again.labels == (label,)
