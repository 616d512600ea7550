"""The build order of a design: steps as a graph, sorted so that nothing comes before what it needs."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from parasim.drawing.drawing import Drawing
from parasim.sewing.order import rigging_sketches, sketches
from parasim.sewing.order.job import Job
from parasim.sewing.order.rigging import rigging_steps
from parasim.sewing.order.sewing import sewing_steps
from parasim.sewing.order.steps import Step, in_order


def build_order(job: Job) -> tuple[Step, ...]:
    """Steps that the design needs, from cutting to the last weighing, in order."""
    return tuple(_drawn(step, job) for step in in_order((*sewing_steps(job), *rigging_steps(job))))


def _drawn(step: Step, job: Job) -> Step:
    found = SKETCHES.get(step.key)
    return step if found is None else replace(step, sketches=tuple(each for each in found(job) if each))


SKETCHES: dict[str, Callable[[Job], Sequence[Drawing | None]]] = {
    "cut": lambda job: [sketches.rib_order(job)],
    "ports": lambda job: [sketches.cross_ports(job)],
    "tabs": lambda job: [sketches.tab_on_patch(job)],
    "nose_ribs": lambda job: [sketches.nose(job)],
    "lips": lambda job: [sketches.lips(job)],
    "brake_tabs": lambda job: [sketches.brake_tab(job)],
    "stabilisers": lambda job: [sketches.stabiliser(job)],
    "top_skin": lambda job: [sketches.skin_seam(job, "top")],
    "bottom_skin": lambda job: [sketches.skin_seam(job, "bottom", tab=True), sketches.last_seam(job)],
    "rear_ends": lambda job: [sketches.rear_end(job)],
    "trailing_edge": lambda job: [sketches.trailing_edge(job)],
    "lines_cut": lambda job: [rigging_sketches.line_ends(job)],
    "cascades": lambda job: [rigging_sketches.cascade(job)],
    "brake_fans": lambda job: [rigging_sketches.brake_fan(job), rigging_sketches.free_play(job)],
    "risers": lambda job: [rigging_sketches.riser(job)],
    "zero_marks": lambda job: [rigging_sketches.zero_mark(job)],
}
"""Key of a step to its drawings."""
