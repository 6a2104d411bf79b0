"""What is believed about a part's shape and a shop's heats, as one Gaussian."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.planning.candidate import Heat, HeatKind

Array = NDArray[np.float64]

SEEN = 1e-9
"""Share of the largest eigenvalue up to which a covariance knows nothing."""
FORM_ERROR = 0.1
"""Standard deviation of what the expected form of a movement misses, a share of the movement at
each place (an assumption; the influence of a heat is never quite what the model says)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Belief:
    """True deviations d of n places and true factors f of K kinds, jointly Gaussian.

    Args:
        kinds: the kinds of heats, in the order of their factors.
        mean: (n + K,) deviations in m, then factors.
        covariance: (n + K, n + K).

    Raises:
        OutOfRange: sizes that don't fit, or no covariance.

    Example:
        >>> belief = first_belief([HeatKind(name="wedge")], np.array([0.012]), np.array([5e-4]))
        >>> belief.factors.tolist(), round(float(belief.factor_deviation[0]), 3)
        ([1.0], 0.3)
    """

    kinds: tuple[HeatKind, ...]
    mean: Array
    covariance: Array

    def __post_init__(self) -> None:
        size = self.mean.size
        if size <= len(self.kinds) or self.covariance.shape != (size, size):
            raise OutOfRange(
                f"A belief of {size} values with a covariance of {self.covariance.shape} for "
                f"{len(self.kinds)} kinds; needed: a place at least, and a square covariance."
            )
        if not (np.isfinite(self.mean).all() and np.isfinite(self.covariance).all()):
            raise OutOfRange("A belief holds values that are not numbers.")

    @property
    def count(self) -> int:
        """Number of places."""
        return int(self.mean.size) - len(self.kinds)

    @property
    def shape(self) -> Array:
        """(n,) m, expected deviations."""
        return self.mean[: self.count]

    @property
    def shape_covariance(self) -> Array:
        """(n, n) m2."""
        return self.covariance[: self.count, : self.count]

    @property
    def shape_deviation(self) -> Array:
        """(n,) m, standard deviations of the deviations."""
        return np.sqrt(np.maximum(np.diag(self.shape_covariance), 0.0))

    @property
    def factors(self) -> Array:
        """(K,) expected factors."""
        return self.mean[self.count :]

    @property
    def factor_covariance(self) -> Array:
        """(K, K)."""
        return self.covariance[self.count :, self.count :]

    @property
    def factor_deviation(self) -> Array:
        """(K,) standard deviations of the factors."""
        return np.sqrt(np.maximum(np.diag(self.factor_covariance), 0.0))

    @property
    def cross(self) -> Array:
        """(n, K) covariances of deviations with factors, m."""
        return self.covariance[: self.count, self.count :]

    def after(self, heats: Sequence[Heat], form_error: float = FORM_ERROR) -> "Belief":
        """The belief after heats that nobody has measured yet.

        d' = d + G f + w, with G the summed moves of each kind; w holds the scatter of the heats,
        of the day and of the form. Means are exact, and so are covariances of the products of
        factor and scatter; the distribution is taken as Gaussian.

        Args:
            heats: given in one cycle.
            form_error: share of the movement of each place that the form misses.

        Raises:
            OutOfRange: a heat of an unknown kind or for another number of places.
        """
        if not heats:
            return self
        moved, noise = self._movement(heats)
        size = self.mean.size
        carry = np.eye(size)
        carry[: self.count, self.count :] = moved.T
        mean = carry @ self.mean
        covariance = carry @ self.covariance @ carry.T
        change = moved.T @ self.factors
        noise += np.diag((form_error * change) ** 2)
        covariance[: self.count, : self.count] += noise
        return Belief(kinds=self.kinds, mean=mean, covariance=_symmetric(covariance))

    def _movement(self, heats: Sequence[Heat]) -> tuple[Array, Array]:
        """(K, n) summed moves by kind, and (n, n) covariance by the scatter of heats and day."""
        order = {kind.name: index for index, kind in enumerate(self.kinds)}
        moved = np.zeros((len(self.kinds), self.count))
        noise = np.zeros((self.count, self.count))
        square = self.factors**2 + np.diag(self.factor_covariance)
        for heat in heats:
            if heat.kind not in order:
                raise OutOfRange(f"A heat of kind {heat.kind!r}; known are {list(order)}.")
            if heat.moves.shape != (self.count,):
                raise OutOfRange(
                    f"Heat {heat.name!r} moves {heat.moves.size} places, measured are {self.count}."
                )
            index = order[heat.kind]
            kind = self.kinds[index]
            moved[index] += heat.moves
            single = kind.scatter**2 * (1.0 + kind.day**2) * square[index]
            noise += single * np.outer(heat.moves, heat.moves)
        for index, kind in enumerate(self.kinds):
            common = kind.day**2 * square[index]
            noise += common * np.outer(moved[index], moved[index])
        return moved, noise

    def seen(self, measured: Array, covariance: Array) -> "Belief":
        """The belief after a measurement of all places: the conjugate Gaussian update.

        K = C H^T (H C H^T + R)^-1, mean + K (measured - H mean), (I - K H) C (I - K H)^T + K R K^T

        Args:
            measured: (n,) m.
            covariance: (n, n) m2 of the measuring errors.

        Raises:
            OutOfRange: sizes that don't fit, or a covariance that is none.

        Source: textbook conjugate update of a Gaussian (Joseph's form).
        """
        measured, covariance = _checked(measured, covariance, self.count)
        gain = self._gain(covariance)
        size = self.mean.size
        left = np.eye(size)
        left[:, : self.count] -= gain
        mean = self.mean + gain @ (measured - self.shape)
        made = left @ self.covariance @ left.T + gain @ covariance @ gain.T
        return Belief(kinds=self.kinds, mean=mean, covariance=_symmetric(made))

    def _gain(self, covariance: Array) -> Array:
        inverse, _ = inverse_of(self.shape_covariance + covariance)
        return np.asarray((inverse @ self.covariance[: self.count, :]).T)

    def surprise(self, measured: Array, covariance: Array) -> float:
        """Squared distance of a measurement from what was expected, in its own covariance.

        It is chi-square distributed when the belief is right, with n degrees of freedom, less those
        along which the part's place is fitted out.

        Args:
            measured: (n,) m.
            covariance: (n, n) m2 of the measuring errors.

        Raises:
            OutOfRange: as ``seen``.
        """
        measured, covariance = _checked(measured, covariance, self.count)
        off = measured - self.shape
        inverse, _ = inverse_of(self.shape_covariance + covariance)
        return float(off @ inverse @ off)

    def remeasured(self, measured: Array, covariance: Array) -> "Belief":
        """Factors as they are, and the shape from a measurement alone.

        Args:
            measured: (n,) m.
            covariance: (n, n) m2 of the measuring errors.

        Raises:
            OutOfRange: as ``seen``.
        """
        measured, covariance = _checked(measured, covariance, self.count)
        made = np.zeros_like(self.covariance)
        made[: self.count, : self.count] = covariance
        made[self.count :, self.count :] = self.factor_covariance
        mean = np.concatenate([measured, self.factors])
        return Belief(kinds=self.kinds, mean=mean, covariance=made)


def first_belief(
    kinds: Sequence[HeatKind], measured: Array, uncertainty: Array, common: float = 0.0
) -> Belief:
    """The belief after the first measurement, before any heat.

    Factors are 1, with variance common^2 + uncertain^2 and covariance common^2 between kinds.

    Args:
        kinds: of heats.
        measured: (n,) m, deviations.
        uncertainty: (n,) m standard deviations, or (n, n) m2 covariance of the measuring errors.
        common: standard deviation of what all kinds share, such as the same flame.

    Raises:
        OutOfRange: sizes that don't fit, a negative share, no covariance.

    Example:
        >>> kinds = [HeatKind(name="wedge", uncertain=0.1), HeatKind(name="spot", uncertain=0.1)]
        >>> belief = first_belief(kinds, np.zeros(3), np.full(3, 5e-4), common=0.3)
        >>> belief.factor_covariance.round(3).tolist()
        [[0.1, 0.09], [0.09, 0.1]]
    """
    if not 0.0 <= common <= 0.6:
        raise OutOfRange(f"A common uncertainty of {common:g}; allowed: 0 to 0.6.")
    errors = error_covariance(uncertainty, np.size(measured))
    measured, errors = _checked(np.asarray(measured, float), errors, np.size(measured))
    factors = np.diag([kind.uncertain**2 for kind in kinds]) + common**2
    size = measured.size + len(kinds)
    covariance = np.zeros((size, size))
    covariance[: measured.size, : measured.size] = errors
    covariance[measured.size :, measured.size :] = factors
    mean = np.concatenate([measured, np.ones(len(kinds))])
    return Belief(kinds=tuple(kinds), mean=mean, covariance=covariance)


def error_covariance(uncertainty: Array, count: int) -> Array:
    """(n, n) m2 covariance from standard deviations (n,), or as it was given.

    Args:
        uncertainty: (n,) m or (n, n) m2.
        count: n.

    Raises:
        OutOfRange: another size, or a standard deviation that is not above 0.

    Example:
        >>> error_covariance(np.array([2.0, 1.0]), 2).tolist()
        [[4.0, 0.0], [0.0, 1.0]]
    """
    given = np.asarray(uncertainty, float)
    if given.shape == (count,):
        if not bool(np.all(given > 0.0)) or not np.isfinite(given).all():
            raise OutOfRange("Standard uncertainties of a measurement must be above 0.")
        return np.diag(given**2)
    if given.shape != (count, count):
        raise OutOfRange(
            f"Uncertainties of shape {given.shape} for {count} places; needed: one a place, or a "
            "square covariance."
        )
    return given


def _checked(measured: Array, covariance: Array, count: int) -> tuple[Array, Array]:
    measured = np.asarray(measured, float)
    if measured.shape != (count,):
        raise OutOfRange(f"A measurement of {measured.size} places; there are {count}.")
    if not np.isfinite(measured).all():
        raise OutOfRange("A measurement holds values that are not numbers.")
    if covariance.shape != (count, count):
        raise OutOfRange(f"A covariance of {covariance.shape} for {count} places.")
    return measured, covariance


def inverse_of(covariance: Array) -> tuple[Array, int]:
    """Inverse of a covariance on what it knows, and in how many directions that is.

    Where a part's place is fitted out, the covariance is 0 along it and so are all readings; those
    directions are left out (eigenvalues up to ``SEEN`` of the largest).

    Args:
        covariance: (n, n).

    Raises:
        OutOfRange: it is no covariance.

    Example:
        >>> inverse, rank = inverse_of(np.array([[1.0, -1.0], [-1.0, 1.0]]))
        >>> inverse.round(6).tolist(), rank
        ([[0.25, -0.25], [-0.25, 0.25]], 1)
    """
    values, vectors = np.linalg.eigh(_symmetric(covariance))
    largest = float(values[-1])
    if not largest > 0.0 or float(values[0]) < -1e-6 * largest:
        raise OutOfRange(
            "The covariance of a measurement is not positive; give standard uncertainties above 0."
        )
    kept = values > SEEN * largest
    part = vectors[:, kept]
    return np.asarray((part / values[kept]) @ part.T), int(kept.sum())


def _symmetric(matrix: Array) -> Array:
    return 0.5 * (matrix + matrix.T)
