"""The command line: run, check, compare, sweep, choose, fit, calibrate."""

from flamefe.cli.answering import FAILED, FAULTY, OK, STOPPED, app, main
from flamefe.cli.calibrating import calibrate, list_rules
from flamefe.cli.cases import check, example, list_examples, run, schema
from flamefe.cli.comparing import compare
from flamefe.cli.sweeping import spread, sweep
from flamefe.cli.torch import choose, fit, materials

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
    "list_examples",
    "list_rules",
    "main",
    "materials",
    "run",
    "schema",
    "spread",
    "sweep",
]
