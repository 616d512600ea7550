"""Which inputs drive the scatter: by ranks on the plain sample, and by Sobol indices on flights of their own.

All of it is about canopies that opened as designed. The place is reported along and across the cloud: the
longer axis of its covariance, towards north or east, and to the right of that.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from parasim.rotations import FloatArray
from parasim.scatter.inputs import COLUMNS, WIDTH, IntArray, draw
from parasim.scatter.members import Chunk, Members, Plan, fly_opened
from parasim.workers import Workers, each_done

FIGURES: dict[str, str] = {
    "along": "length",
    "across": "length",
    "ground_speed": "speed",
    "sink": "speed",
    "energy": "energy",
}
"""What is driven, by the kind of quantity."""

TURBULENCE = "turbulence"
"""The gusts that a member meets, as an input of its own."""

SOBOL_CHUNK = 200
"""Members flown at a time."""

RIDGE = 1e-9
"""Added to the diagonal of the correlations: a figure may follow one input exactly."""

RESAMPLES = 200
"""Of the bootstrap for the intervals of Sobol indices."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sensitivity:
    """Rank correlations between inputs and figures.

    Attributes
    ----------
    names : tuple of str
        Inputs that vary.
    rank : ndarray, shape (figures, inputs)
        Spearman's. [-]
    partial : ndarray, shape (figures, inputs)
        The same with the ranks of all other inputs held. [-]
    explained : ndarray, shape (figures,)
        Part of the variance of the figure's ranks that all inputs together explain, in straight lines. [-]
    count : int
        Members it rests on.
    """

    names: tuple[str, ...]
    rank: FloatArray
    partial: FloatArray
    explained: FloatArray
    count: int

    @property
    def noise(self) -> float:
        """Rank correlations as large as this come by chance in one of twenty. [-]"""
        return 1.96 / np.sqrt(max(self.count - 1, 1))


def axis_of(members: Members) -> FloatArray:
    """North and east part of the cloud's longer axis, shape (2,), the larger of them positive."""
    place = np.array([members.north, members.east])
    long = np.linalg.eigh(np.asarray(np.cov(place)))[1][:, 1]
    return np.asarray(long * np.sign(long[np.argmax(np.abs(long))]))


def figures_of(members: Members, axis: FloatArray) -> FloatArray:
    """`FIGURES` of members, shape (figures, n)."""
    c, s = axis
    along = c * members.north + s * members.east
    across = c * members.east - s * members.north
    return np.array([along, across, members.ground_speed, members.sink, members.energy])


def sensitivity(opened: Members, axis: FloatArray) -> Sensitivity | None:
    """Sensitivity of the plain sample; None when too few members landed for so many inputs.

    Parameters
    ----------
    opened : Members
        That opened as designed and landed.
    axis : ndarray, shape (2,)
        The cloud's longer axis.
    """
    names = tuple(opened.inputs)
    if not names or len(opened) < 3 * len(names) + 10:
        return None
    inputs = _ranks(np.array([opened.inputs[name] for name in names]))
    results = _ranks(figures_of(opened, axis))
    found = [_correlations(inputs, result) for result in results]
    return Sensitivity(
        names=names,
        rank=np.array([rank for rank, _, _ in found]),
        partial=np.array([partial for _, partial, _ in found]),
        explained=np.array([explained for _, _, explained in found]),
        count=len(opened),
    )


def _ranks(rows: FloatArray) -> FloatArray:
    """Ranks within each row, from 1; equal values share the mean of theirs."""
    ranks = np.empty(rows.shape)
    for i, row in enumerate(rows):
        _, place, count = np.unique(row, return_inverse=True, return_counts=True)
        ranks[i] = (np.cumsum(count) - (count - 1) / 2)[place]
    return ranks


def _correlations(inputs: FloatArray, result: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Correlation with each input, partial correlation, and the part explained by all.

    From the inverse P of the matrix of correlations: the partial one is -P_jy / sqrt(P_jj P_yy), the part
    explained 1 - 1/P_yy.
    """
    if np.ptp(result) == 0:
        nothing = np.zeros(len(inputs))
        return nothing, nothing, 0.0
    matrix = np.asarray(np.corrcoef(np.vstack([inputs, result])))
    precision = np.linalg.inv(np.nan_to_num(matrix) + RIDGE * np.eye(len(matrix)))
    scale = np.sqrt(np.diag(precision))
    partial = -precision[-1, :-1] / (scale[:-1] * scale[-1])
    return matrix[-1, :-1], partial, 1.0 - 1.0 / float(precision[-1, -1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sobol:
    """Sobol indices: parts of a figure's variance that inputs make.

    Attributes
    ----------
    names : tuple of str
        Inputs that vary, and `TURBULENCE` where there is any.
    first, total : ndarray, shape (figures, inputs)
        By the input alone; by it and all that it does together with others. [-]
    first_interval, total_interval : ndarray, shape (2, figures, inputs)
        Bootstrap intervals at 95 %. [-]
    base : int
        Rows of each matrix.
    flights : int
        Flown for it.
    failed : int
        Of them; they count as the average.
    """

    names: tuple[str, ...]
    first: FloatArray
    total: FloatArray
    first_interval: FloatArray
    total_interval: FloatArray
    base: int
    flights: int
    failed: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SobolPlan:
    """Two matrices of numbers, and those made of the one with a column of the other.

    Attributes
    ----------
    plan : Plan
        What flies; its chances of late and no opening are not used.
    rows : ndarray, shape (2, base, inputs)
        Matrices A and B of numbers between zero and one.
    turbulent : bool
        Whether turbulence is an input of its own.
    """

    plan: Plan
    rows: FloatArray
    turbulent: bool

    @property
    def names(self) -> tuple[str, ...]:
        """Inputs in order."""
        return (*(each.name for each in self.plan.inputs), *((TURBULENCE,) if self.turbulent else ()))

    def of(self, index: IntArray) -> tuple[FloatArray, IntArray]:
        """Numbers, shape (n, WIDTH), and numbers of the turbulence, shape (n,), of flights by their index.

        First come A and B, then for each input A with the column of B.
        """
        base, inputs = self.rows.shape[1], len(self.plan.inputs)
        block, row = np.divmod(index, base)
        u = np.full((len(index), WIDTH), 0.5)
        for j, each in enumerate(self.plan.inputs):
            from_b = ((block == 1) | (block == 2 + j)).astype(int)
            u[:, COLUMNS[each.name]] = self.rows[from_b, row, j]
        u[:, COLUMNS["opening"]] = 1.0
        other_gusts = (block == 1) | (block == 2 + inputs)
        return u, row + base * other_gusts


def build_sobol_plan(plan: Plan, *, base: int, turbulent: bool) -> SobolPlan:
    """Plan for Sobol indices; the base is a power of two."""
    from scipy.stats import qmc

    count = len(plan.inputs)
    sampler = qmc.Sobol(d=2 * count, scramble=True, seed=plan.seed)
    numbers = sampler.random(base)
    return SobolPlan(plan=plan, rows=np.array([numbers[:, :count], numbers[:, count:]]), turbulent=turbulent)


def fly_sobol_chunk(job: SobolPlan, chunk: Chunk) -> Members:
    """Fly some of the flights that Sobol indices need."""
    u, number = job.of(np.arange(chunk.first, chunk.first + chunk.count))
    return fly_opened(job.plan, draw(job.plan.inputs, u), number)


def sobol(
    job: SobolPlan, axis: FloatArray, workers: Workers, done: Callable[[int, int], None] | None = None
) -> Sobol:
    """Fly for Sobol indices and work them out.

    Parameters
    ----------
    job : SobolPlan
        What is flown.
    axis : ndarray, shape (2,)
        The cloud's longer axis.
    workers : Workers
        Who flies.
    done : callable, optional
        Told how many of how many flights are done.
    """
    base, names = job.rows.shape[1], job.names
    flights = base * (len(names) + 2)
    parts = [Chunk(at, min(SOBOL_CHUNK, flights - at)) for at in range(0, flights, SOBOL_CHUNK)]
    results = np.empty((len(FIGURES), flights))
    for part, members in each_done(fly_sobol_chunk, job, parts, workers):
        found = np.where(members.landed, figures_of(members, axis), np.nan)
        results[:, part.first : part.first + part.count] = found
        if done is not None:
            done(part.count, flights)
    lost = ~np.isfinite(results).all(axis=0)
    average = results[:, ~lost].mean(axis=1) if not lost.all() else np.zeros(len(FIGURES))
    results[:, lost] = average[:, None]
    blocks = results.reshape(len(FIGURES), len(names) + 2, base).transpose(1, 0, 2)
    value = _indices(blocks)
    rng = np.random.default_rng(job.plan.seed)
    again = np.array([_indices(blocks[..., rng.integers(0, base, base)]) for _ in range(RESAMPLES)])
    ends = np.quantile(again, [0.025, 0.975], axis=0)
    return Sobol(
        names=names,
        first=value[0],
        total=value[1],
        first_interval=ends[:, 0],
        total_interval=ends[:, 1],
        base=base,
        flights=flights,
        failed=int(lost.sum()),
    )


def _indices(blocks: FloatArray) -> FloatArray:
    """First and total indices, shape (2, figures, inputs), of blocks A, B and A with a column of B."""
    from scipy.stats import sobol_indices

    found = sobol_indices(func={"f_A": blocks[0], "f_B": blocks[1], "f_AB": blocks[2:]}, n=blocks.shape[-1])
    shape = (blocks.shape[1], len(blocks) - 2)
    return np.array([np.reshape(found.first_order, shape), np.reshape(found.total_order, shape)])
