"""The command line: run, check, compare, sweep, choose, fit, calibrate, job, sheet."""

from flamefe.cli.answering import FAILED, FAULTY, OK, STOPPED, app, main
from flamefe.cli.calibrating import calibrate, list_rules
from flamefe.cli.cases import check, example, list_examples, run, schema
from flamefe.cli.comparing import compare
from flamefe.cli.floor import sheet
from flamefe.cli.job import job_app
from flamefe.cli.sweeping import spread, sweep
from flamefe.cli.torch import choose, fit, materials
from flamefe.cli.words import glossary

__all__ = [
    "FAILED",
    "FAULTY",
    "OK",
    "STOPPED",
    "app",
    "calibrate",
    "check",
    "choose",
    "compare",
    "example",
    "fit",
    "glossary",
    "job_app",
    "list_examples",
    "list_rules",
    "main",
    "materials",
    "run",
    "schema",
    "sheet",
    "spread",
    "sweep",
]
