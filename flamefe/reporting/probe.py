"""Find out whether this machine can draw in three dimensions, without risking the process."""

import functools
import subprocess
import sys

PROBE = """
import pyvista
plotter = pyvista.Plotter(off_screen=True, window_size=(40, 30))
plotter.add_mesh(pyvista.Plane(), color="white", lighting=False)
picture = plotter.screenshot(None, return_img=True)
assert picture.shape[:2] == (30, 40) and picture.max() > 200
"""
SECONDS_ALLOWED = 90.0

WHAT_TO_INSTALL = (
    "Pictures are drawn plainly, without hidden surfaces worked out, because drawing in three "
    "dimensions does not work here ({reason}). For better ones install an off-screen OpenGL: on "
    "Debian or Ubuntu 'apt-get install libegl1 libgl1-mesa-dri' (or libosmesa6)."
)


@functools.cache
def why_no_3d(script: str = PROBE) -> str | None:
    """Draw a tiny picture in a process of its own and return why that failed, None if it worked.

    Where neither EGL nor OSMesa is installed, off-screen drawing does not raise: it kills the
    process. So the first try is made in a process that may die. Asked once per process.

    Args:
        script: what is tried; for tests.

    Example:
        >>> why_no_3d("import os; os.abort()")
        'the trial was killed by signal 6'
    """
    try:
        done = subprocess.run(
            [sys.executable, "-c", script],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=SECONDS_ALLOWED,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return f"the trial took more than {SECONDS_ALLOWED:g} s"
    except OSError as fault:
        return f"no trial could be started: {fault}"
    if done.returncode < 0:
        return f"the trial was killed by signal {-done.returncode}"
    if done.returncode > 0:
        last = done.stderr.decode(errors="replace").strip().splitlines()[-1:]
        return f"the trial failed: {last[0]}" if last else "the trial failed"
    return None
