"""One page that says everything about a run, in one file that needs no other."""

import base64
import hashlib
import io
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib import metadata, resources
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from flamefe.reporting.asked import asked_lines
from flamefe.reporting.atomic import put_text
from flamefe.reporting.charts import Chart, as_bytes
from flamefe.reporting.forces_picture import forces_chart
from flamefe.reporting.gas import gas_words
from flamefe.reporting.history_picture import history_chart
from flamefe.reporting.marks import Mark, marks_of
from flamefe.reporting.page_model import model_of
from flamefe.reporting.page_signs import sign_of
from flamefe.reporting.page_verdict import answers, headline
from flamefe.reporting.part_picture import part_chart
from flamefe.reporting.pictures import hottest_scene, peak_scene, plastic_strain_scene, shape_scene
from flamefe.reporting.rules_picture import rules_chart
from flamefe.reporting.scene import Scene
from flamefe.reporting.summary import (
    DISCLAIMER,
    device_lines,
    measure_rows,
    measures_heading,
    rule_line,
    run_lines,
    shown_cycles,
)
from flamefe.reporting.sure import input_words, mesh_words
from flamefe.reporting.torch_picture import torch_chart
from flamefe.reporting.words import number, one_line
from flamefe.study.case_flames import nozzle_of
from flamefe.study.result import RunResult

PAGE = "report.html"
LONGEST_TITLE = 200
LONGEST_LINE = 4000
CHARTS: dict[str, Callable[[RunResult], Chart | None]] = {
    "part": part_chart,
    "history": history_chart,
    "torch": torch_chart,
    "rules": rules_chart,
    "forces": forces_chart,
}
SCENES: dict[str, Callable[[RunResult], Scene]] = {
    "hottest": hottest_scene,
    "peak_temperature": peak_scene,
    "plastic_strain": plastic_strain_scene,
    "shape": shape_scene,
}
WEBP_QUALITY = 88
MOST_SHEET_BYTES = 1_300_000
"""Of heat sheets as SVG in a page."""


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A picture in the page.

    Args:
        address: the picture itself, as a data address.
        words: what it shows, for those who can't see it.
    """

    address: str
    words: str


def write_page(
    result: RunResult,
    file: str | Path,
    *,
    pictures: Mapping[str, Path] | None = None,
    charts: bool = True,
    notes: tuple[str, ...] = (),
    sheets: Mapping[Path, str] | None = None,
) -> Path:
    """Write the page of a result, whole or not at all.

    Args:
        result: a finished run.
        file: HTML file to write.
        pictures: PNG files to put into it, by their names without a suffix: "hottest",
            "peak_temperature", "plastic_strain", "shape"; those that are missing are left out.
        charts: whether to draw charts.
        notes: what went wrong with pictures.
        sheets: SVG files of heat sheets, and what they say.

    Returns:
        The file.

    Raises:
        OSError: the file can't be written, or a picture not read.

    Example:
        >>> write_page(result, "report.html")  # doctest: +SKIP
        PosixPath('report.html')
    """
    text = page_text(result, pictures=pictures, charts=charts, notes=notes, sheets=sheets)
    return put_text(Path(file), text)


def page_text(
    result: RunResult,
    *,
    pictures: Mapping[str, Path] | None = None,
    charts: bool = True,
    notes: tuple[str, ...] = (),
    sheets: Mapping[Path, str] | None = None,
) -> str:
    """The page of a result as HTML. It loads nothing, and says what the summary says.

    Args:
        result, pictures, charts, notes, sheets: as of ``write_page``.

    Example:
        >>> page_text(result)[:15]  # doctest: +SKIP
        '<!DOCTYPE html>'
    """
    found = answers(result)
    drawn, failed = _charts(result) if charts else ({}, ())
    try:
        model = model_of(result)
    except Exception as fault:  # the page is still good without it
        model, failed = None, (*failed, _failed("The view that can be turned", fault))
    stills = {
        name: Shown(address=_picture(path), words=_scene_words(SCENES[name](result)))
        for name, path in (pictures or {}).items()
        if name in SCENES
    }
    scripts = [_part("three.min.js"), _part("page.js")]
    rows = [(row, sign_of(row)) for row in measure_rows(result)]
    text: str = _template().render(
        title=one_line(result.case.title, LONGEST_TITLE),
        about=_paragraphs(result.case.about),
        version=metadata.version("flamefe"),
        written=datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        headline=headline(found),
        answers=found,
        asked=asked_lines(result),
        marks=_told(marks_of(result)),
        gas=gas_words(result),
        stills=dict.fromkeys(SCENES) | stills,
        charts=dict.fromkeys(CHARTS) | drawn,
        model=model,
        measures_heading=measures_heading(result),
        acting=result.cycles[-1].acting.words,
        cycles=[cycle.cycle for cycle in shown_cycles(result)],
        rows=rows,
        classes={one.measure: one.kept or "none" for one in result.cycles[-1].shape},
        from_straight=any(one.from_straight for one in result.cycles[-1].shape),
        meanings={m.name: m.meaning for cycle in result.cycles for m in cycle.measures},
        rules=[(rule, rule_line(rule)) for rule in result.rules],
        devices=device_lines(result),
        run=run_lines(result),
        warnings=result.warnings,
        cautions=result.cautions,
        disclaimer=DISCLAIMER,
        versions=result.versions,
        notes=(*notes, *failed),
        mesh_error=mesh_words(result),
        spread=[*input_words(result), *_spread(result)],
        sheets=_sheets(sheets or {}),
        all_sheets=len(sheets or {}),
        style=Markup(_part("page.css")),
        scripts=[Markup(text) for text in scripts],
        policy=_policy(scripts),
    )  # fmt: skip
    return text


@cache
def _template() -> Any:
    place = Environment(
        loader=PackageLoader("flamefe.reporting", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return place.get_template("page.html.jinja")


@cache
def _part(name: str) -> str:
    return (resources.files("flamefe.reporting") / "templates" / name).read_text("utf-8").strip()


def _policy(scripts: list[str]) -> str:
    """What a browser is told to allow: our two scripts and what stands in the page, nothing
    from elsewhere."""
    hashes = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in scripts]
    allowed = " ".join(f"'sha256-{one}'" for one in hashes)
    return (
        f"default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src {allowed}; "
        "base-uri 'none'; form-action 'none'"
    )


def _charts(result: RunResult) -> tuple[dict[str, Shown], tuple[str, ...]]:
    """The charts that apply, and what went wrong with others."""
    drawn: dict[str, Shown] = {}
    failed: list[str] = []
    for name, make in CHARTS.items():
        try:
            chart = make(result)
            svg = None if chart is None else as_bytes(chart, "svg")
        except Exception as fault:  # one chart less is better than no page
            failed.append(_failed(f"The chart {name!r}", fault))
            continue
        if chart is not None and svg is not None:
            drawn[name] = Shown(address=_svg(svg), words=chart.words)
    return drawn, tuple(failed)


def _svg(body: bytes) -> str:
    return f"data:image/svg+xml;base64,{base64.b64encode(body).decode('ascii')}"


def _sheets(files: Mapping[Path, str]) -> list[Shown]:
    """Heat sheets from the first on, as many as the page takes."""
    shown, left = [], MOST_SHEET_BYTES
    for file, words in files.items():
        body = file.read_bytes()
        left -= len(body)
        if left < 0:
            break
        shown.append(Shown(address=_svg(body), words=words))
    return shown


def _failed(what: str, fault: Exception) -> str:
    return f"{what} could not be drawn: {one_line(fault) or type(fault).__name__}."


def _picture(file: Path) -> str:
    """A PNG file as a data address, as WebP where that can be made: a third of the size."""
    from PIL import Image, features

    kind, body = "png", file.read_bytes()
    if features.check("webp"):
        put = io.BytesIO()
        with Image.open(io.BytesIO(body)) as picture:
            picture.convert("RGB").save(put, format="WEBP", quality=WEBP_QUALITY, method=2)
        kind, body = "webp", put.getvalue()
    return f"data:image/{kind};base64,{base64.b64encode(body).decode('ascii')}"


def _scene_words(scene: Scene) -> str:
    """A picture in words: all that is written on it but the case's title."""
    low, high = scene.span
    said = [scene.title, *scene.notes[1:]]
    return f"{'. '.join(said)}. Colours from {low:.4g} to {high:.4g}, {scene.colour_label}."


def _told(marks: tuple[Mark, ...]) -> list[tuple[str, str]]:
    """Marks of a drawing, those that say the same together: "S1 to S4"."""
    groups: list[tuple[list[str], str]] = []
    for mark in marks:
        if groups and groups[-1][1] == mark.words:
            groups[-1][0].append(mark.label)
        else:
            groups.append(([mark.label], mark.words))
    return [
        (labels[0] if len(labels) == 1 else f"{labels[0]} to {labels[-1]}", words)
        for labels, words in groups
    ]


def _spread(result: RunResult) -> list[str]:
    """Inputs that are known within bounds only, in words."""
    said = []
    for name in dict.fromkeys(heat.flame for heat in result.case.heats):
        nozzle = nozzle_of(result.case.flames[name])
        if nozzle is None:
            continue
        low, high = (1e-3 * value for value in nozzle.net_range)
        if high > low:
            said.append(
                f'flame "{one_line(name)}": {number(low, 2)} to {number(high, 2)} kW into the '
                f"part, {number(1e-3 * nozzle.net_power, 2)} kW used here; times, speeds and "
                "depths change with it"
            )
    return said


def _paragraphs(text: str) -> list[str]:
    """Free text as paragraphs without control characters."""
    parts = [one_line(part, LONGEST_LINE) for part in re.split(r"\n\s*\n", text.strip())]
    return [part for part in parts if part]
