"""Anderson mixing: speed up a fixed-point iteration by what its last steps taught."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Anderson:
    """Mix the last iterates so that their combined correction is least.

    For an iteration x <- x + f(x), with differences dX, dF of past iterates and corrections::

        g = argmin |f - dF g|,   x_next = x + f - (dX + dF) g

    Source: D. G. Anderson, Iterative procedures for nonlinear integral equations, J. ACM 12
    (1965) 547-560; H. F. Walker, P. Ni, Anderson acceleration for fixed-point iterations, SIAM
    J. Numer. Anal. 49 (2011) 1715-1735, eq. 2.1.

    Args:
        depth: how many past differences are kept.

    Example:
        >>> matrix = np.array([[3.0, 1.0], [1.0, 2.0]])
        >>> x, mixer = np.zeros(2), Anderson(depth=5)
        >>> for _ in range(4):
        ...     x = mixer.next(x, 0.2 * (np.array([5.0, 5.0]) - matrix @ x))
        >>> bool(np.allclose(x, [1.0, 2.0], atol=1e-10))
        True
    """

    def __init__(self, *, depth: int) -> None:
        self.depth = depth
        self._last: tuple[Array, Array] | None = None
        self._steps: list[Array] = []
        self._changes: list[Array] = []
        self._gram = np.zeros((0, 0))

    def next(self, x: Array, correction: Array) -> Array:
        """Next iterate from ``x`` and its plain ``correction`` f(x); any equal shapes."""
        shape = x.shape
        x, correction = x.reshape(-1), correction.reshape(-1)
        if self._last is not None:
            self._remember(x - self._last[0], correction - self._last[1])
        self._last = (x.copy(), correction.copy())
        result = x + correction
        if self._changes:
            right = np.array([change @ correction for change in self._changes])
            scale = np.sqrt(np.diag(self._gram))
            gram = self._gram / np.outer(scale, scale)
            gamma = np.linalg.lstsq(gram, right / scale, rcond=1e-12)[0] / scale
            for weight, step, change in zip(gamma, self._steps, self._changes, strict=True):
                result -= weight * step
                result -= weight * change
        return result.reshape(shape)

    def _remember(self, step: Array, change: Array) -> None:
        if not np.any(change):
            return
        if len(self._changes) == self.depth:
            self._steps.pop(0)
            self._changes.pop(0)
            self._gram = self._gram[1:, 1:]
        row = np.array([other @ change for other in self._changes])
        size = len(self._changes)
        gram = np.empty((size + 1, size + 1))
        gram[:size, :size] = self._gram
        gram[size, :size] = gram[:size, size] = row
        gram[size, size] = change @ change
        self._gram = gram
        self._steps.append(step)
        self._changes.append(change)
