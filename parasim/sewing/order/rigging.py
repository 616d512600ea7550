"""Steps from line stock to the rigged canopy. Order and tolerances are common practice, no source."""

from collections.abc import Iterator
from math import degrees

from parasim.geometry.fin_lines import riser_of_fin_row
from parasim.geometry.hang import rigging_slopes
from parasim.geometry.lines import Line
from parasim.geometry.risers import FRONT, REAR, hook_spacing, riser_of_row
from parasim.sewing.line_sheet import Entry, LineSheet, zero_points
from parasim.sewing.order.job import CLOTH_TOLERANCE, LINE_TOLERANCE, MASS_TOLERANCE, Job
from parasim.sewing.order.steps import COUNT, Figure, Step

LINES, RIGGING = "Lines", "Rigging"

_ANGLE_ERROR = 0.005  # row error whose effect is reported [m]


def rigging_steps(job: Job) -> tuple[Step, ...]:
    """Steps that this design needs, each naming what it waits for."""
    return (*_lines(job), *_hanging(job), *_inspection(job))


def _lines(job: Job) -> Iterator[Step]:
    sheet, spec = job.line_sheet, job.design.lines
    yield Step(
        key="lines_cut",
        stage=LINES,
        title="Cut, loop and tag every line by the line sheet",
        details=(
            f"Stretch each under {sheet.tension_words(job.system)}; make left and right of a pair side by "
            "side.",
            *zero_points(job.system),
            *(f"{entry.label}: {entry.cut_order(job.system)}." for entry in sheet.entries if entry.run),
        ),
        after=("cut",),
        figures=(
            Figure(name="pieces of line", value=float(sum(t.count for t in sheet.totals)), kind=COUNT),
            Figure(name="line to cut in all", value=sheet.total_cut, kind="run"),
        ),
    )
    if spec.cascades:
        yield Step(
            key="cascades",
            stage=LINES,
            title="Tie the cascades: upper lines into their lower lines",
            details=tuple(
                f"Rows {', '.join(cascade.rows)} join {100 * cascade.height:.0f} % of the way up"
                + (f"; row {cascade.through} runs through." if cascade.through else ".")
                for cascade in spec.cascades
            ),
            after=("lines_cut",),
        )
    yield Step(
        key="check_lines",
        stage=LINES,
        title=f"Inspect: measure every line under {sheet.tension_words(job.system)}, left and right",
        details=(
            f"Left and right of a pair may differ by {job.size(job.left_right)} at most. {_row_effects(job)}",
        ),
        after=("lines_cut", "cascades"),
        figures=tuple(_line_figures(sheet)),
    )


def _row_effects(job: Job) -> str:
    slopes = rigging_slopes(job.line_set, job.canopy)
    turns = {
        row: _ANGLE_ERROR * sum(slopes[line.label] for line in _ends(job) if line.rows == (row,))
        for row in job.design.lines.rows
    }
    given = ", ".join(f"{row} {degrees(turn):+.1f}" for row, turn in turns.items())
    return f"A whole row {job.size(_ANGLE_ERROR)} too long turns the rigging by, in deg nose-down: {given}."


def _ends(job: Job) -> Iterator[Line]:
    for hold in job.line_set.holds:
        yield from hold.uppers


def _line_figures(sheet: LineSheet) -> Iterator[Figure]:
    """Every line once, mirrored ones together."""
    given: set[str] = set()
    by_label = {entry.label: entry for entry in sheet.entries}
    ribs = [entry.rib for entry in sheet.entries if entry.rib]
    n = max(ribs) + min(ribs)
    for entry in sheet.entries:
        if entry.label in given:
            continue
        other = mirrored(entry, n)
        pair = [label for label in (entry.label, other) if label in by_label]
        given.update(pair)
        yield Figure(
            name=" and ".join(pair),
            value=entry.finished,
            kind="tape_length",
            tolerance=LINE_TOLERANCE,
            both_sides=len(pair) > 1,
        )


def mirrored(entry: Entry, ribs: int) -> str:
    """Label of the line on the other side; `ribs` is the sum of the numbers of two mirrored ribs."""
    other = {"L": "R", "R": "L"}
    if not entry.rib:
        return other[entry.label[0]] + entry.label[1:]
    return f"{ribs - entry.rib:02d}{other[entry.label[2]]}{entry.label[3:]}"


def _hanging(job: Job) -> Iterator[Step]:
    spec, brakes = job.design.lines, job.design.brakes
    ends = "four" if job.design.payload.suspension.four_hooks else "two"
    yield Step(
        key="hang_rows",
        stage=RIGGING,
        title=f"Tie the rows to their tabs, {' then '.join(spec.rows)}",
        details=(
            "From the centre outwards, left and right in turn; no line crosses another.",
            *_fin_lines(job),
        ),
        after=("check_lines", "trailing_edge", "weigh_canopy"),
    )
    yield Step(
        key="brake_fans",
        stage=RIGGING,
        title="Tie the brake fans to the trailing edge",
        details=(
            f"{brakes.branches} {'branch' if brakes.branches == 1 else 'branches'} a side, behind all rows.",
        ),
        after=("check_lines", "trailing_edge", "hang_rows"),
    )
    yield Step(
        key="risers",
        stage=RIGGING,
        title=f"Gather the lines at the {ends} riser ends",
        details=(
            "Left lines left, right lines right"
            + ("." if job.canopy.n_cells % 2 else "; the centre rib hangs from both."),
            *_front_and_rear(job),
        ),
        after=("hang_rows", "brake_fans"),
        figures=tuple(_riser_figures(job)),
    )
    yield _zero_marks(job)


def _fin_lines(job: Job) -> Iterator[str]:
    fins = job.design.canopy.stabilisers
    if fins is None or not fins.rows:
        return
    yield f"Last the lines of the stabilisers, {', '.join(fins.rows)}: just taut with the fin hanging flat."
    if job.design.payload.suspension.four_hooks:
        of_row = riser_of_fin_row(job.design, job.canopy)
        yield (
            "Of them run "
            + ", ".join(f"{row} to the {('front', 'rear')[riser]} risers" for row, riser in of_row.items())
            + "."
        )


def _front_and_rear(job: Job) -> Iterator[str]:
    """Which rows go to which riser, where there is a choice."""
    if not job.design.payload.suspension.four_hooks:
        return
    of_row = riser_of_row(job.design)
    front, rear = (", ".join(row for row in of_row if of_row[row] == riser) for riser in (FRONT, REAR))
    yield f"Front risers: rows {front}. Rear risers: rows {rear} and the brakes."


def _riser_figures(job: Job) -> Iterator[Figure]:
    spread, lengths = job.design.lines.riser.spread, job.design.riser_lengths
    sizes = [("riser, lines to the top of the payload", lengths[0])]
    if job.design.payload.suspension.four_hooks:
        sizes = [
            (f"{name} risers, lines to hook", size)
            for name, size in zip(("front", "rear"), lengths, strict=True)
        ]
        sizes.append(("front hooks ahead of the rear ones", hook_spacing(job.design)))
    for name, size in (
        *sizes,
        ("between the riser ends" if len(lengths) == 1 else "left and right hooks apart", spread),
    ):
        if size > 0:
            yield Figure(name=name, value=size, kind="tape_length", tolerance=CLOTH_TOLERANCE)


def _zero_marks(job: Job) -> Step:
    brakes, servo = job.design.brakes, job.design.servo
    details = [
        "Zero mark: both lines just taut, trailing edge still straight; mark them together.",
        *_rings(job),
        f"Of the pull the first {job.size(job.design.free_play)} are free play.",
    ]
    if servo is None:
        details.append("Without servos: tie both lines at their zero marks.")
    else:
        details.append(
            f"{'Winch' if servo.kind == 'winch' else 'Servo arm'} at its released end with the line at "
            "the zero mark; left servo to left brake."
        )
    return Step(
        key="zero_marks",
        stage=RIGGING,
        title="Set the brakes: zero mark, travel, free play",
        details=tuple(details),
        after=("risers", "brake_fans"),
        figures=(
            *(
                Figure(
                    name=f"{entry.label}: fan to zero mark",
                    value=entry.finished,
                    kind="tape_length",
                    tolerance=LINE_TOLERANCE,
                )
                for entry in job.line_sheet.entries
                if entry.remark.startswith("mark the zero")
            ),
            Figure(
                name="full pull from the zero mark, free play included",
                value=brakes.travel,
                kind="tape_length",
                tolerance=LINE_TOLERANCE,
                both_sides=True,
            ),
            Figure(name="free play", value=job.design.free_play, kind="tape_length", both_sides=True),
        ),
    )


def _rings(job: Job) -> Iterator[str]:
    rings, ring = job.line_set.rings, job.design.brakes.ring
    if rings is None or ring is None:
        return
    riser = f"{ring.riser or 'rear'} riser" if job.design.payload.suspension.four_hooks else "riser"
    side = "below" if ring.below >= 0 else "above"
    yield (
        f"Sew a ring to each {riser}, {job.size(abs(ring.below))} {side} its end; lead the brake line "
        f"through it and {job.size(rings.onward)} on to the servo's guide. The zero mark is at the ring."
    )


def _inspection(job: Job) -> Iterator[Step]:
    lift = job.cloth_mass + job.line_mass
    yield Step(
        key="check_rigging",
        stage=RIGGING,
        title="Inspect the rigged canopy, hung by its riser ends or stretched on the floor",
        details=(
            f"Longer than row {job.line_sheet.front_row} of the same rib, riser end to tab: the "
            "differences fix "
            f"the rigging angle of {job.say(job.rigging_angle, 'angle')} (nose-down), the lengths themselves "
            "hardly do.",
        ),
        after=("risers", "zero_marks"),
        figures=(
            Figure(
                name="confluence to quarter chord of the centre rib, straight",
                value=job.line_length,
                kind="tape_length",
                tolerance=2 * LINE_TOLERANCE,
            ),
            *_differential_figures(job),
            Figure(name="left less right, any row", value=0.0, kind="tape_length", tolerance=job.left_right),
        ),
    )
    yield Step(
        key="weigh_all",
        stage=RIGGING,
        title="Inspect: weigh the finished canopy, and all that flies",
        details=(
            "What the canopy weighs with its lines goes into a notes file, as_built.finished_mass, for "
            "parasim learn: it says what that does to glide and sink.",
        ),
        after=("check_rigging",),
        figures=(
            Figure(
                name="finished canopy with lines",
                value=lift,
                kind="small_mass",
                tolerance=MASS_TOLERANCE * lift,
            ),
            Figure(name="all-up, with payload", value=job.all_up_mass, kind="mass"),
        ),
    )


def _differential_figures(job: Job) -> Iterator[Figure]:
    sheet, rows = job.line_sheet, tuple(job.design.lines.rows)
    n = job.canopy.n_ribs + 1
    for d in sheet.differentials:
        if 2 * d.rib > n or (2 * d.rib == n and d.side == "R"):
            continue
        ribs = f"ribs {d.rib} and {n - d.rib}" if 2 * d.rib != n else f"rib {d.rib}"
        for row in rows[1:]:
            yield Figure(
                name=f"{ribs}: {row} longer than {sheet.front_row}",
                value=d.longer[row],
                kind="tape_length",
                tolerance=LINE_TOLERANCE,
                both_sides=True,
            )
