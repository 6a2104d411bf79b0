"""What still acts on the part when it is measured: loads, and devices that carry a force."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flamefe.straining.history import StrainHistory
from flamefe.straining.restraint import Load

SMALL_N = 1.0
"""Force of a device that counts as none, N."""
SMALL_SHARE = 0.01
"""The same, by the largest force of any device in the job."""
MM = 1e-3


@dataclass(frozen=True, kw_only=True)
class Acting:
    """What acts while a cycle's distortion is measured.

    Args:
        names: of loads and devices, in their order.
        bent_mm: largest displacement before the first heat, by what then acted; 0 without.
    """

    names: tuple[str, ...] = ()
    bent_mm: float = 0.0

    @property
    def words(self) -> str:
        """In a sentence; empty where nothing acts.

        Example:
            >>> print(Acting(names=("load 1 (own weight)",), bent_mm=0.31).words)
            Measured under load 1 (own weight): what springs back when these are taken off is part \
of it; before the first heat these forces had moved the part by up to 0.31 mm.
        """
        if not self.names:
            return ""
        before = ""
        if self.bent_mm > 0.0:
            before = (
                "; before the first heat these forces had moved the part by up to "
                f"{self.bent_mm:.2g} mm"
            )
        return (
            f"Measured under {', '.join(self.names)}: what springs back when these are taken off "
            f"is part of it{before}."
        )


def acting_at(loads: Sequence[Load], strain: StrainHistory, time: float) -> Acting:
    """What acts on the part at the end of a cycle.

    Args:
        loads: of the job, with their times.
        strain: what supports and devices carried.
        time: s, of the measurement.

    Example:
        >>> from types import SimpleNamespace
        >>> strain = SimpleNamespace(devices=(), times=np.array([0.0, 9.0]),
        ...                          displacements=np.full((2, 1, 3), 1e-4))
        >>> weight = Load(forces=np.array([[0.0, 0.0, -5.0]]), name="own weight")
        >>> acting_at([weight], strain, 9.0)
        Acting(names=('own weight',), bent_mm=0.17320508075688773)
    """
    names = [
        load.name
        for load in loads
        if load.applied < time < load.released and load.history.at(time) and load.forces.any()
    ]
    most = max((float(device.carried.max()) for device in strain.devices), default=0.0)
    for device in strain.devices:
        last = int(np.searchsorted(device.times, time, side="right")) - 1
        felt = max(SMALL_N, SMALL_SHARE * most)
        asked = device.name.startswith("support ") and "(rest)" not in device.name
        if asked and last >= 0 and device.carried[last] > felt:
            names.append(f"{device.name}, {device.carried[last] * 1e-3:.3g} kN")
    names = list(dict.fromkeys(names))
    if not names:
        return Acting()
    first = np.linalg.norm(strain.displacements[0], axis=1).max()
    return Acting(names=tuple(names), bent_mm=float(first) / MM)


NOTHING = Acting()
"""Nothing acts: the part is measured free."""
