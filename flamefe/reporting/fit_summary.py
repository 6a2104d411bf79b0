"""A fitted flame in words: values with intervals, residuals, verdict, and what to doubt."""

import textwrap

import numpy as np

from flamefe.reporting.summary import DISCLAIMER, WIDTH
from flamefe.reporting.words import number, one_line
from flamefe.study.case_flames import nozzle_of
from flamefe.study.trial import TrialFit

MOST_THERMOCOUPLES = 12
NOISE_ONLY = (
    "The intervals hold what the noise of the readings does. They do not hold errors that all "
    "readings share: places, times, material, or a flame that was not steady."
)


def fit_text(result: TrialFit) -> str:
    """Tell a fitted flame in plain text, each line at most 100 characters.

    In order: the verdict, what was fitted to what, values with intervals, residuals of each
    thermocouple, warnings, and that it is advice.

    Args:
        result: of ``fit_flame``.

    Returns:
        Lines that end in a line end.

    Example:
        >>> print(fit_text(result))  # doctest: +SKIP
    """
    fitted = result.fitted
    lines = _wrapped(f"Flame fitted to a trial: {one_line(result.case.title, WIDTH)}")
    for words in fitted.verdict:
        lines += _wrapped(words)
    lines += ["", "Fitted"]
    lines += _wrapped(_asked(result), "  ")
    lines += ["", f"Values, with {100 * fitted.confidence:g} % intervals"]
    lines += _table(_value_rows(result))
    lines += _wrapped(_correlation(result), "  ")
    lines += ["", "Residuals, measured minus simulated"]
    lines += _table(_residual_rows(result))
    lines += _wrapped(_spread(result), "  ")
    if result.remarks:
        lines += ["", "Warnings"]
        lines += [line for words in result.remarks for line in _wrapped(words, "  ")]
    lines += ["", *_wrapped(f"{DISCLAIMER} {NOISE_ONLY}")]
    return "".join(f"{line}\n" for line in lines)


def _asked(result: TrialFit) -> str:
    readings, fitted = result.readings, result.fitted
    count = len(readings.thermocouples)
    if result.model == "absorbed":
        model = "Absorbed power, whose shape is that of the case's flame"
    else:
        model = f"Hot gas at a held flame radius of {number(result.radius_mm, 3)} mm"
    return (
        f"{model}, to {readings.times.size} readings of {count} thermocouple{'s' * (count > 1)} "
        f"from {number(float(readings.times.min()), 3)} to "
        f"{number(float(readings.times.max()), 3)} s after lighting, "
        f"{readings.temperatures.min():.0f} to {readings.temperatures.max():.0f} C; "
        f"{len(fitted.trials)} simulations, each with a heat balance within "
        f"{max(100 * result.energy.error, 0.01):.2g} %."
    )


def _value_rows(result: TrialFit) -> list[tuple[str, ...]]:
    fitted = result.fitted
    rows: list[tuple[str, ...]] = [
        (name, f"{number(float(value), 4)} {unit}",
         f"{number(float(low), 4)} to {number(float(high), 4)}",
         f"start {number(float(start), 3)}")
        for name, unit, value, low, high, start in zip(
            fitted.names, fitted.units, fitted.values, fitted.lower, fitted.upper, fitted.start,
            strict=True,
        )
    ]  # fmt: skip
    nozzle = nozzle_of(result.case.flames[result.case.heats[0].flame])
    if nozzle is not None and result.efficiency is not None:
        value, low, high = result.efficiency
        gross = number(nozzle.gross_power / 1e3, 3)
        more = " - MORE THAN THE GAS HOLDS" if value > 1.0 else ""
        rows.append(("efficiency", number(value, 3), f"{number(low, 3)} to {number(high, 3)}",
                     f"of a gross power of {gross} kW{more}"))  # fmt: skip
    return rows


def _correlation(result: TrialFit) -> str:
    fitted = result.fitted
    return (
        f"Correlation of the two {fitted.correlation[0, 1]:+.3f}; "
        f"{fitted.degrees_of_freedom:.0f} degrees of freedom from {fitted.residuals.size} readings "
        f"that are worth {fitted.independent:.0f} independent ones."
    )


def _residual_rows(result: TrialFit) -> list[tuple[str, ...]]:
    readings, residuals = result.readings, result.fitted.residuals
    rows: list[tuple[str, ...]] = []
    for name in readings.thermocouples[:MOST_THERMOCOUPLES]:
        mine = readings.rows(name)
        own = residuals[mine]
        worst = int(np.argmax(np.abs(own)))
        x, y, z = 1e3 * readings.place(name)
        rows.append(
            (
                one_line(name, 24),
                f"({x:.4g}, {y:.4g}, {z:.4g}) mm",
                f"rms {number(float(np.sqrt(np.mean(own**2))), 2)} K",
                f"mean {own.mean():+.2g} K",
                f"largest {own[worst]:+.2g} K at {number(float(readings.times[mine[worst]]), 3)} s",
            )
        )
    return rows


def _spread(result: TrialFit) -> str:
    fitted, count = result.fitted, len(result.readings.thermocouples)
    words = f"All together rms {number(fitted.rms, 3)} K"
    if fitted.rms_by_deviation is not None:
        words += f", {number(fitted.rms_by_deviation, 2)} times the stated deviations"
    if count > MOST_THERMOCOUPLES:
        words += f"; the first {MOST_THERMOCOUPLES} of {count} thermocouples are shown"
    return f"{words}."


def _table(rows: list[tuple[str, ...]]) -> list[str]:
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    lines = [
        "  "
        + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    return [piece for line in lines for piece in _kept(line)]


def _kept(line: str) -> list[str]:
    """A line of a table, broken only where it is too long."""
    if len(line) <= WIDTH:
        return [line]
    return textwrap.wrap(line, WIDTH, initial_indent="  ", subsequent_indent="      ")


def _wrapped(text: str, first: str = "") -> list[str]:
    spaces = "".join(c if c.isprintable() else " " for c in text)
    return textwrap.wrap(spaces, WIDTH, initial_indent=first, subsequent_indent=f"{first}  ")
