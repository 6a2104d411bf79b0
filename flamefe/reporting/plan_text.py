"""A plan, a lesson and the standing of a job as plain text."""

from collections.abc import Sequence

import numpy as np

from flamefe.planning.belief import Belief
from flamefe.planning.candidate import Heat
from flamefe.planning.job import Job
from flamefe.planning.learning import Lesson
from flamefe.planning.plan import BAND, CyclePlan
from flamefe.planning.problem import Problem
from flamefe.planning.standing import Step
from flamefe.reporting.plan_words import caution_lines, folded, millimetre, percent, table
from flamefe.reporting.words import one_line

MOST_ROWS = 60


def plan_text(plan: CyclePlan, problem: Problem, cycle: int, doubts: Sequence[str] = ()) -> str:
    """The plan of a cycle: heats, what each contributes, the shape expected, why not more.

    Args:
        plan: of the cycle.
        problem: of the job.
        cycle: its number.
        doubts: what looked wrong in the measurement it rests on.

    Returns:
        Lines that end in a line end.
    """
    lines = [f"{one_line(problem.title)}: plan of cycle {cycle}", ""]
    lines += doubt_lines(doubts)
    if plan.done:
        lines.append(f"Done: within tolerance with a probability of {percent(plan.within_now)}.")
    elif not plan.heats:
        lines.append("No heat is planned.")
    if plan.measure_again:
        lines += folded(
            f"It may be good already (probability {percent(plan.within_now)}): measure again and "
            "enter that before heating; the heats below are for the case that it is not.",
            "",
        )
    if not plan.outlook.reachable:
        why = plan.outlook.why
        if problem.by_area:  # what is left counts area there, not height
            why = why.partition("; at best")[0]
        lines += folded(f"Can't be brought in with what is allowed: {why}.", "")
        if plan.heats:
            lines.append("What follows is the best that can be done.")
    if plan.heats:
        lines += [f"Heats ({len(plan.heats)} of {plan.considered} considered), in this order"]
        lines += table(heat_rows(plan, problem))
    lines += ["", f"Shape, mm ({problem.meaning or 'deviation'})"]
    lines += table(shape_rows(plan, problem))
    lines += ["", *chance_lines(plan)]
    if plan.outlook.reachable and plan.outlook.heats:
        more = f"{plan.outlook.heats} heat{'s' if plan.outlook.heats != 1 else ''}"
        cycles = f"{plan.outlook.cycles} cycle{'s' if plan.outlook.cycles != 1 else ''}"
        lines.append(f"At the factors believed it takes {more} in {cycles} from here at least.")
    lines += ["", "Why not more", *(line for text in plan.why for line in folded(text))]
    if plan.gap is not None and plan.heats:
        lines += folded(_proof(plan.gap), "")
    lines += ["", *caution_lines(problem)]
    return "".join(f"{line}\n" for line in lines)


def doubt_lines(doubts: Sequence[str]) -> list[str]:
    """What looked wrong in the measurement that something rests on; none: no lines.

    Args:
        doubts: each in words.
    """
    lines = []
    for doubt in doubts:
        lines += folded(f"DOUBTFUL MEASUREMENT: {one_line(doubt, 300)}.", "")
    if doubts:
        lines += ["What follows rests on it.", ""]
    return lines


def heat_rows(plan: CyclePlan, problem: Problem) -> list[tuple[str, ...]]:
    """Rows of the heats in order, each with its largest contribution.

    Args:
        plan: of the cycle.
        problem: of the job.
    """
    rows: list[tuple[str, ...]] = [("", "heat", "moves, mm", "most at", "note")]
    for place, (heat, part) in enumerate(zip(plan.heats, plan.contributions, strict=True)):
        most = int(np.argmax(np.abs(part)))
        rows.append(
            (
                str(place + 1),
                one_line(heat.name),
                millimetre(float(part[most])),
                one_line(problem.places.names[most]),
                _again(heat),
            )
        )
    return rows


def _again(heat: Heat) -> str:
    return "" if heat.repeat == 1.0 else f"heated before: {100 * heat.repeat:.0f} % of a first heat"


def shape_rows(plan: CyclePlan, problem: Problem) -> list[tuple[str, ...]]:
    """Rows of the places: now, expected, band, tolerance.

    Args:
        plan: of the cycle.
        problem: of the job.
    """
    band = f"{100 * BAND:.0f} % band"
    rows: list[tuple[str, ...]] = [("place", "now", "expected", band, "tolerance", "")]
    places = problem.places
    now, after = problem.shown(plan.before.shape), problem.shown(plan.after.shape)
    unsure = problem.shown_error(plan.before.shape, plan.before.shape_deviation)
    lowest = problem.shown(plan.after.shape - plan.band)
    highest = problem.shown(plan.after.shape + plan.band)
    for i, name in enumerate(places.names[:MOST_ROWS]):
        low, high = lowest[i], highest[i]
        inside = places.lower[i] <= after[i] <= places.upper[i]
        rows.append(
            (
                one_line(name),
                f"{millimetre(now[i])} (sd {1e3 * unsure[i]:.1f})",
                millimetre(after[i]),
                f"{millimetre(low)} to {millimetre(high)}",
                f"{millimetre(places.lower[i])} to {millimetre(places.upper[i])}",
                "" if inside else "outside",
            )
        )
    if len(places.names) > MOST_ROWS:
        rows.append((f"... {len(places.names)} places in all", *[""] * 5))
    return rows


def chance_lines(plan: CyclePlan) -> list[str]:
    """The probabilities of a plan.

    Args:
        plan: of the cycle.
    """
    return [
        f"Within tolerance everywhere: {percent(plan.within_now)} now, {percent(plan.within)} "
        "after the cycle.",
        f"Overcorrected anywhere, beyond the opposite tolerance: {percent(plan.overcorrected)}.",
    ]


def _proof(gap: float) -> str:
    if gap < 1e-5:
        return "No other choice of these heats is better (proved)."
    return (
        f"The best choice would be better by {gap:.2g} halves of the tolerance at most (bound of "
        "the search)."
    )


def lesson_text(lesson: Lesson, number: int) -> str:
    """What a measurement taught, or why it was not believed.

    Args:
        lesson: of the measurement.
        number: of its entry.

    Returns:
        Lines that end in a line end.
    """
    lines = []
    if lesson.movement is not None:
        share, unsure = lesson.movement
        lines.append(
            f"Seen: {100 * share:.0f} % of the expected movement (expected: 100 %, sd "
            f"{100 * unsure:.0f} %)."
        )
    if lesson.fits:
        lines.append("The measurement fits what was expected.")
        if not lesson.learnt:
            lines.append("It is in doubt, or was left out as decided.")
    else:
        lines += folded(
            "THIS CYCLE DOES NOT FIT: a misfit like this has a probability of "
            f"{percent(lesson.likelihood)}."
            f"{' It was learnt from, as decided.' if lesson.learnt else ''}",
            "",
        )
        lines += [line for text in lesson.why for line in folded(f"It looks like this: {text}.")]
    if not lesson.learnt:
        lines += folded(
            "The new shape counts, but nothing was learnt about the heats. Look into it; then "
            "measure again, or decide: flamefe job decide FILE learn | leave | discard "
            f"(measurement {number}).",
            "",
        )
    lines += factor_lines(lesson.belief)
    return "".join(f"{line}\n" for line in lines)


def factor_lines(belief: Belief) -> list[str]:
    """What is believed about each kind of heat.

    Args:
        belief: now.
    """
    return [
        f"{one_line(kind.name)}: {mean:.2f} times the expected effect (sd {unsure:.2f})"
        for kind, mean, unsure in zip(
            belief.kinds, belief.factors, belief.factor_deviation, strict=True
        )
    ]


def status_text(job: Job) -> str:
    """Where a job stands, and what comes next.

    Args:
        job: the job.

    Returns:
        Lines that end in a line end.
    """
    standing, problem = job.standing, job.problem
    heats = sum(len(cycle) for cycle in standing.given)
    lines = [
        one_line(problem.title),
        f"{len(standing.given)} cycle(s) with {heats} heat(s); {len(job.entries)} entries in "
        f"{job.file.name}",
    ]
    if job.torn:
        lines.append(
            f"{job.torn} bytes of an entry that was cut off at the end are left out; all entries "
            "before it are whole."
        )
    away = [str(one.number) for one in standing.rounds if one.discarded]
    if away:
        lines.append(f"Discarded: measurement {', '.join(away)}")
    if standing.belief is None:
        waits = standing.stale is not None or standing.unmeasured
        lines.append(
            _next(job) if waits else "Next: measure, and enter it with flamefe job measure."
        )
        return "".join(f"{line}\n" for line in lines)
    head = ("after", "heats", "worst place", "mm", "")
    lines += ["", "Cycles", *table([head, *(_row(job, step) for step in standing.steps)])]
    lines += ["", "Believed", *(f"  {line}" for line in factor_lines(standing.belief)), ""]
    lines += doubt_lines(standing.doubts)
    lines.append(_next(job))
    return "".join(f"{line}\n" for line in lines)


def _row(job: Job, step: Step) -> tuple[str, ...]:
    places = job.problem.places
    off = np.abs(step.measured - places.centre) / places.half
    worst = int(np.argmax(off))
    if step.lesson is None:
        fits = "first measurement"
    else:
        fits = "fits" if step.lesson.fits else "DOES NOT FIT"
        if step.lesson.learnt != step.lesson.fits:
            fits += ", learnt from as decided" if step.lesson.learnt else ", not learnt from"
    inside = "within tolerance" if off[worst] <= 1.0 else "outside"
    return (
        f"measurement {step.number}",
        str(len(step.heats)),
        one_line(places.names[worst]),
        f"{millimetre(float(job.problem.shown(step.measured)[worst]))} {inside}",
        fits,
    )


def _next(job: Job) -> str:
    if job.standing.stale is not None:
        return (
            f"Next: measure again. The open plan of {len(job.standing.planned or ())} heats rests "
            f"on measurement {job.standing.stale}, which was discarded: DON'T give it. If some of "
            'its heats were given already, say so: flamefe job measure ... --skipped "all", '
            'numbers, or "none".'
        )
    if job.standing.unmeasured and not job.standing.planned:
        count = sum(map(len, job.standing.unmeasured))
        return (
            f"Next: measure again. {count} heats were GIVEN and wait for their measurement; don't "
            "give them again."
        )
    if job.standing.planned:
        count = len(job.standing.planned)
        return (
            f"Next: give the {count} planned heats (flamefe job sheet), let it cool, measure, and "
            "enter it."
        )
    return "Next: flamefe job plan."
