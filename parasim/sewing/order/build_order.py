"""The build order of a design: steps as a graph, sorted so that nothing comes before what it needs."""

from parasim.sewing.order.job import Job
from parasim.sewing.order.rigging import rigging_steps
from parasim.sewing.order.sewing import sewing_steps
from parasim.sewing.order.steps import Step, in_order


def build_order(job: Job) -> tuple[Step, ...]:
    """Steps that the design needs, from cutting to the last weighing, in order."""
    return in_order((*sewing_steps(job), *rigging_steps(job)))
