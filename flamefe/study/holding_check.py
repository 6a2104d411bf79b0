"""What only the mesh shows to be wrong with supports and loads, before anything is solved."""

from dataclasses import replace

import numpy as np

from flamefe.basics.errors import FlamefeError
from flamefe.straining.restraint import RestraintError, rigid_modes
from flamefe.straining.schedule import targets
from flamefe.study.case import Case
from flamefe.study.faults import CaseError, Fault, Path
from flamefe.study.holding import Holding, holding_of
from flamefe.workpiece.body import Body

COLD_C = 20.0


def check_holding(case: Case, body: Body) -> None:
    """Make sure that supports and loads are where they can act, and that they hold the part.

    Args:
        case: the case.
        body: its meshed part, as it was before any heat.

    Raises:
        CaseError: a support or load can't act where it is, all of them at once; or the part is
            left loose, at some time between fitting and release.

    Example:
        >>> from flamefe.study.case import Clamp, Plate
        >>> from flamefe.study.parts import body_of, material_of
        >>> from pathlib import Path as FilePath
        >>> case = Case(title="x", supports=[Clamp(face="start")],
        ...     workpiece=Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355"))
        >>> check_holding(case, body_of(case, material_of(case), FilePath())[0])
    """
    faults = []
    for room in ("supports", "loads"):
        for number, item in enumerate(getattr(case, room)):
            alone = {"supports": (), "loads": (), room: (item,)}
            try:
                holding_of(_bare(case, alone), body, (), ())
            except FlamefeError as error:
                faults.append(_fault((room, number), str(error)))
    if faults:
        raise CaseError(faults)
    for times in ((), ()), ((1.0,), (2.0,)):  # while all is fitted, and through a cycle
        try:
            _march(body, holding_of(case, body, *times))
        except RestraintError as error:
            raise CaseError([_fault(("supports",), str(error))]) from None


def _bare(case: Case, alone: dict[str, tuple[object, ...]]) -> Case:
    """A case with one support or load, not checked again."""
    made = replace(case)
    for name, value in alone.items():
        object.__setattr__(made, name, value)
    return made


def _march(body: Body, holding: Holding) -> None:
    cold = np.full(body.points.shape[0], COLD_C)
    for _ in targets(
        points=body.points,
        moments=[(0.0, cold, "")],
        supports=holding.supports,
        loads=holding.loads,
        devices=holding.devices,
        fallback=rigid_modes(body),
        steadied=holding.steadied,
    ):
        pass


def _fault(path: Path, words: str) -> Fault:
    given, _, advice = words.partition(". ")
    return Fault(
        path=path,
        given=given[0].lower() + given[1:].rstrip("."),
        allowed="where, and in which direction, it can act on this part",
        advice=advice or "Move it or turn it.",
    )
