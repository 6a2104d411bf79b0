"""The law at a point: J2 plasticity in total form, every property by temperature.

Total form: stress = C(T) : (strain - plastic strain - thermal strain). A rate form would leave
false stress where the stiffness changes with temperature.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from flamefe.workpiece.body import POINTS_OF_A_HEX, Body
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]

_SHEAR = slice(3, 6)


@dataclass(frozen=True, kw_only=True, eq=False)
class PointState:
    """What a point remembers.

    Args:
        plastic_strain: (6, n), shear components doubled.
        back_strain: (6, n), the plastic strain that kinematic hardening remembers; shear doubled.
        equivalent: (n,), the equivalent plastic strain that isotropic hardening remembers.
        accumulated: (n,), equivalent plastic strain since the start; annealing does not reset it.
    """

    plastic_strain: Array
    back_strain: Array
    equivalent: Array
    accumulated: Array

    @classmethod
    def virgin(cls, count: int) -> "PointState":
        """``count`` points that have never yielded."""
        return cls(
            plastic_strain=np.zeros((6, count)),
            back_strain=np.zeros((6, count)),
            equivalent=np.zeros(count),
            accumulated=np.zeros(count),
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class PointProperties:
    """Material properties at points at one moment, each (n,), SI.

    Args:
        shear: shear modulus, Pa.
        bulk: bulk modulus, Pa.
        free_strain: thermal strain since the stress-free temperature.
        yield_stress: Pa.
        isotropic, kinematic: hardening moduli, Pa.
        forgets: points hot enough to lose their hardening; None: none are.
        is_kinematic: some hardening is kinematic.
    """

    shear: Array
    bulk: Array
    free_strain: Array
    yield_stress: Array
    isotropic: Array
    kinematic: Array
    forgets: NDArray[np.bool_] | None
    is_kinematic: bool

    @classmethod
    def of(cls, material: Material, temperature: Array, stress_free: Array) -> "PointProperties":
        """Properties at ``temperature`` (n,) C of a material free of strain at ``stress_free``."""
        modulus = material.youngs_modulus(temperature)
        poisson = material.poisson(temperature)
        hardening = material.hardening_modulus(temperature)
        share = material.kinematic_share
        forgets = None
        if material.annealing_C is not None:
            hot = temperature >= material.annealing_C
            forgets = hot if hot.any() else None
        return cls(
            shear=modulus / (2.0 * (1.0 + poisson)),
            bulk=modulus / (3.0 * (1.0 - 2.0 * poisson)),
            free_strain=material.thermal_strain(temperature) - material.thermal_strain(stress_free),
            yield_stress=material.yield_stress(temperature),
            isotropic=(1.0 - share) * hardening,
            kinematic=share * hardening,
            forgets=forgets,
            is_kinematic=share > 0.0,
        )

    @classmethod
    def chosen(
        cls, parts: Sequence["PointProperties"], owner: NDArray[np.int64]
    ) -> "PointProperties":
        """Merge the properties of several materials: point i takes those of ``parts[owner[i]]``."""

        def pick(name: str) -> Array:
            return np.asarray(np.choose(owner, [getattr(part, name) for part in parts]))

        forgets = [
            p.forgets if p.forgets is not None else np.zeros(owner.size, bool) for p in parts
        ]
        hot = np.choose(owner, forgets).astype(bool)
        return cls(
            shear=pick("shear"),
            bulk=pick("bulk"),
            free_strain=pick("free_strain"),
            yield_stress=pick("yield_stress"),
            isotropic=pick("isotropic"),
            kinematic=pick("kinematic"),
            forgets=hot if hot.any() else None,
            is_kinematic=any(part.is_kinematic for part in parts),
        )


def properties_of(body: Body, temperature: Array, stress_free: Array) -> PointProperties:
    """Properties at a body's points (ne * 8,), hex by hex of its material."""
    parts = [PointProperties.of(m, temperature, stress_free) for m in body.materials]
    if body.owner is None:
        return parts[0]
    return PointProperties.chosen(parts, np.repeat(body.owner, POINTS_OF_A_HEX))


@dataclass(frozen=True, kw_only=True, eq=False)
class PointAnswer:
    """Stress (6, n) Pa, the new state, and what the tangent needs (see ``tangent``)."""

    stress: Array
    state: PointState
    yielding: NDArray[np.intp]
    direction: Array
    softening: Array
    plastic_ratio: Array


def respond(strain: Array, properties: PointProperties, state: PointState) -> PointAnswer:
    """Stress and new state at points after the total ``strain`` (radial return).

    Formula (trial deviator s, back stress a = 2/3 H_k b, q = sqrt(3/2 |s - a|^2))::

        f = q - (s_y(T) + H_i(T) e)
        d = f / (3 G + H_i + H_k)   where f > 0
        plastic strain += d n,  n = 3/2 (s - a) / q

    Args:
        strain: (6, n) total strain, order xx, yy, zz, xy, yz, zx, shear doubled.
        properties: material at the points' temperatures.
        state: the committed state; it is not changed.

    Returns:
        PointAnswer: stress, new state, and the pieces of the consistent tangent.

    Range: small strain (a few percent), any rotation if the strain measure is Green-Lagrange.

    Source: J. C. Simo, T. J. R. Hughes, Computational Inelasticity, Springer 1998, box 3.2
    (radial return, mixed linear hardening).

    Example:
        >>> from flamefe.basics.table import Table
        >>> steel = Material(name="demo", density=7850.0, source="demo",
        ...     conductivity=Table.constant(50.0, source="demo"),
        ...     specific_heat=Table.constant(460.0, source="demo"),
        ...     thermal_strain=Table(temperature_C=(20, 120), values=(0, 1.2e-3), source="demo"),
        ...     youngs_modulus=Table.constant(210e9, source="demo"),
        ...     poisson=Table.constant(0.3, source="demo"),
        ...     yield_stress=Table.constant(355e6, source="demo"),
        ...     hardening_modulus=Table.constant(0.0, source="demo"),
        ...     heating_limit_C=650.0, heating_limit_source="demo")
        >>> at = PointProperties.of(steel, np.array([20.0]), np.array([20.0]))
        >>> shear = np.zeros((6, 1)); shear[3] = 0.01
        >>> answer = respond(shear, at, PointState.virgin(1))
        >>> round(float(answer.stress[3, 0]) / 1e6, 2)      # 355 / sqrt(3)
        204.96
    """
    equivalent, back = state.equivalent, state.back_strain
    if properties.forgets is not None:
        equivalent = np.where(properties.forgets, 0.0, equivalent)
        back = np.where(properties.forgets, 0.0, back)
    elastic = strain - state.plastic_strain
    trace = elastic[0] + elastic[1] + elastic[2]
    pressure = properties.bulk * (trace - 3.0 * properties.free_strain)
    twice_shear = 2.0 * properties.shear
    trial = elastic
    trial[:3] -= trace / 3.0
    trial[:3] *= twice_shear
    trial[_SHEAR] *= properties.shear
    relative = trial
    if properties.is_kinematic:
        back_stress = back * (2.0 / 3.0 * properties.kinematic)
        back_stress[_SHEAR] *= 0.5
        relative = trial - back_stress
    squared = np.einsum("in,in->n", relative[:3], relative[:3])
    squared += 2.0 * np.einsum("in,in->n", relative[_SHEAR], relative[_SHEAR])
    q = np.sqrt(1.5 * squared)
    strength = properties.yield_stress + properties.isotropic * equivalent
    excess = q - strength
    yielding = np.flatnonzero(excess > 0.0)
    stress = trial
    n = yielding.size
    if n:
        shear = properties.shear[yielding]
        stiff = 3.0 * shear + properties.isotropic[yielding] + properties.kinematic[yielding]
        step = excess[yielding] / stiff
        direction = relative[:, yielding] * (1.5 / q[yielding])
        stress[:, yielding] -= (2.0 * shear * step) * direction
        flow = step * direction
        flow[_SHEAR] *= 2.0
        plastic = state.plastic_strain.copy()
        plastic[:, yielding] += flow
        accumulated = state.accumulated.copy()
        accumulated[yielding] += step
        equivalent = equivalent.copy()
        equivalent[yielding] += step
        if properties.is_kinematic:
            back = back.copy()
            back[:, yielding] += flow
        if properties.forgets is not None:
            equivalent[properties.forgets] = 0.0
            if properties.is_kinematic:
                back[:, properties.forgets] = 0.0
        new = PointState(
            plastic_strain=plastic,
            back_strain=back,
            equivalent=equivalent,
            accumulated=accumulated,
        )
        softening = 1.0 - 3.0 * shear * step / q[yielding]
        ratio = 3.0 * shear / stiff - (1.0 - softening)
    else:
        new = replace(state, equivalent=equivalent, back_strain=back)
        direction = np.zeros((6, 0))
        softening = ratio = np.zeros(0)
    stress[:3] += pressure
    return PointAnswer(
        stress=stress,
        state=new,
        yielding=yielding,
        direction=direction,
        softening=softening,
        plastic_ratio=ratio,
    )


def tangent(properties: PointProperties, answer: PointAnswer | None = None) -> Array:
    """Consistent tangent (n, 6, 6) Pa of ``answer``; without one, the elastic stiffness.

    Formula, with unit deviator direction m = sqrt(2/3) n::

        D = K 1x1 + 2 G c I_dev - 2 G r m x m

    Source: Simo & Hughes 1998, box 3.2.

    Example:
        >>> one = np.ones(1)
        >>> steel = PointProperties(shear=80e9 * one, bulk=160e9 * one, free_strain=0 * one,
        ...     yield_stress=355e6 * one, isotropic=0 * one, kinematic=0 * one, forgets=None,
        ...     is_kinematic=False)
        >>> (tangent(steel)[0, 3:, 3:].diagonal() / 1e9).tolist()
        [80.0, 80.0, 80.0]
    """
    count = properties.shear.size
    scale = np.ones(count)
    if answer is not None:
        scale[answer.yielding] = answer.softening
    shear = properties.shear * scale
    result = np.zeros((count, 6, 6))
    result[:, :3, :3] = (properties.bulk - 2.0 / 3.0 * shear)[:, None, None]
    for i in range(3):
        result[:, i, i] += 2.0 * shear
        result[:, 3 + i, 3 + i] = shear
    if answer is not None and answer.yielding.size:
        m = answer.direction.T * np.sqrt(2.0 / 3.0)
        weight = 2.0 * properties.shear[answer.yielding] * answer.plastic_ratio
        result[answer.yielding] -= weight[:, None, None] * m[:, :, None] * m[:, None, :]
    return result
