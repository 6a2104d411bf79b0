"""What is worth a second look in the heats of a case, in words."""

from collections.abc import Mapping, Sequence

from flamefe.heating.overlap import Overlap, overlapping_spots, overlaps
from flamefe.study.case_flames import Flame, nozzle_of, radius_mm_of
from flamefe.study.case_solve import Limits
from flamefe.study.case_strokes import AnyHeat, length_of, paths_of, pattern_of, target_of
from flamefe.study.case_workpiece import Surroundings
from flamefe.study.laying import AnyWorkpiece, laid_on
from flamefe.workpiece.practice import HeatingPractice

MM = 1e-3
MOST_TOLD = 6


def overlap_remarks(
    heats: Sequence[AnyHeat], flames: Mapping[str, Flame], piece: AnyWorkpiece
) -> list[str]:
    """Heats, and spots of a field, that lie on one another."""
    said: list[str] = []
    found: set[tuple[int, int, float]] = set()
    lying = [{laid.face: laid for laid in laid_on(piece, heat)} for heat in heats]
    for face in sorted({face for one in lying for face in one}):
        here = [i for i, one in enumerate(lying) if face in one]
        patterns = [lying[i][face].pattern(pattern_of(heats[i])) for i in here]
        reaches = [radius_mm_of(flames[heats[i].flame]) * MM for i in here]
        found |= {
            (here[o.first] + 1, here[o.second] + 1, o.share) for o in overlaps(patterns, reaches)
        }
    ordered = sorted(found, key=lambda pair: (pair[1], pair[0]))
    said += [
        _words(f"Heat {second}", f"heat {first}", Overlap(first=0, second=1, share=share))
        for first, second, share in ordered[:MOST_TOLD]
    ]
    if len(ordered) > MOST_TOLD:
        said.append(f"{len(ordered)} pairs of heats in all lie on one another.")
    for number, heat in enumerate(heats, start=1):
        reach = radius_mm_of(flames[heat.flame]) * MM
        close = overlapping_spots(pattern_of(heat), reach)
        if close:
            most = 100 * max(overlap.share for overlap in close)
            said.append(
                f"Spots of heat {number} run together (up to {most:.0f} % of one lies on its "
                f"neighbour with a flame radius of {reach / MM:.3g} mm); "
                "give them more spacing, or heat a band."
            )
    return said


def flame_remarks(flames: Mapping[str, Flame]) -> list[str]:
    """Nozzles of a size for which the default efficiency and radius were not made."""
    said = []
    for name, flame in flames.items():
        nozzle = nozzle_of(flame)
        if nozzle is not None and nozzle.extrapolated:
            said.append(
                f'The flame "{name}" has {1e-3 * nozzle.gross_power / nozzle.jets:.3g} kW gross a '
                "jet; the default efficiency and radius hold from 2.2 to 38 kW and are used beyond "
                "that: extrapolated. Give your own, from a trial."
            )
        if nozzle is not None and nozzle.fuel.name != "acetylene":
            borrowed = [
                what
                for what, given in (("efficiency", flame.efficiency), ("radius", flame.radius_mm))
                if given is None
            ]
            if borrowed:
                said.append(
                    f'The flame "{name}" burns {nozzle.fuel.name} with the '
                    f"{' and '.join(borrowed)} of an acetylene flame of the "
                    "same gross power, for want of a source; such "
                    "flames are usually wider and softer. Give your own, from a trial."
                )
    return said


def water_remarks(
    heats: Sequence[AnyHeat], practice: HeatingPractice, family: str, reason: str
) -> list[str]:
    """Water that practice forbids but a reason allows, or of which practice knows nothing."""
    wet = [i for i, heat in enumerate(heats, start=1) if getattr(heat, "water", None) is not None]
    if not wet:
        return []
    which = f"Heat{'s' * (len(wet) > 1)} {', '.join(map(str, wet[:MOST_TOLD]))}"
    if not practice.known:
        return [f"{which}: water is used on a material of a kind of which no practice is known."]
    if not practice.water:
        return [
            f"{which}: WATER ON {family.upper()}, which practice forbids "
            f'({practice.water_reason}). Reason given: "{reason.strip()}".'
        ]
    if any(heats[i - 1].water.film_W_m2K is None for i in wet):  # type: ignore[union-attr]
        return [f"{which}: the film coefficient of sprayed water is uncertain to a factor of two."]
    return []


def spray_remarks(heats: Sequence[AnyHeat], flames: Mapping[str, Flame]) -> list[str]:
    """Sprays that never come onto the heated way, or that reach under the flame."""
    said = []
    for number, heat in enumerate(heats, start=1):
        water = getattr(heat, "water", None)
        if water is None:
            continue
        longest = max(length_of(points) for points in paths_of(heat))
        if water.distance_mm >= longest + water.radius_mm:
            said.append(
                f"Heat {number}: the spray trails by {water.distance_mm:g} mm on a way of "
                f"{longest:.4g} mm, so it never comes onto it; water goes out with the flame."
            )
        elif water.distance_mm < water.radius_mm + radius_mm_of(flames[heat.flame]):
            said.append(
                f"Heat {number}: the spray reaches under the flame ({water.distance_mm:g} mm "
                "behind it); it cools what is heated, and the peak temperature is that of a wet "
                "surface."
            )
    return said


def idle_remarks(
    surroundings: Surroundings, limits: Limits, heats: Sequence[AnyHeat], limit_C: float | None
) -> list[str]:
    """Settings without effect, and targets above the limit."""
    said = []
    plain = Surroundings()
    if surroundings.air != "blown" and surroundings.air_speed_m_s != plain.air_speed_m_s:
        said.append('air_speed_m_s has no effect without air = "blown".')
    if surroundings.air != "still" and surroundings.up != plain.up:
        said.append('up has no effect without air = "still".')
    if surroundings.air != "given" and surroundings.film_W_m2K != plain.film_W_m2K:
        said.append('film_W_m2K has no effect without air = "given".')
    wet = any(getattr(heat, "water", None) is not None for heat in heats)
    if limits.quench_reason.strip() and not wet:
        said.append("quench_reason has no effect without water.")
    over = [
        i for i, heat in enumerate(heats, start=1)
        if limit_C is not None and (target_of(heat) or 0.0) > limit_C
    ]  # fmt: skip
    if over:
        said.append(
            f"Heat{'s' * (len(over) > 1)} {', '.join(map(str, over[:MOST_TOLD]))}: the target is "
            f"above the limit of {limit_C:g} C."
        )
    return said


def _words(second: str, first: str, overlap: Overlap) -> str:
    share = f"{100 * overlap.share:.0f} %"
    if overlap.repeated:
        return (
            f"{second} repeats {first} ({share} of the smaller lies on the other): a second heat "
            "on the same place gives less than the first; put it beside."
        )
    return f"{second} overlaps {first} by {share} of the smaller; what lies on both gives less."
