"""The command line: run, check, compare, choose, fit, job."""

from flamefe.cli.answering import FAILED, FAULTY, OK, STOPPED, app, main
from flamefe.cli.cases import check, example, list_examples, run, schema
from flamefe.cli.comparing import compare
from flamefe.cli.job import job_app
from flamefe.cli.torch import choose, fit, materials

__all__ = [
    "FAILED",
    "FAULTY",
    "OK",
    "STOPPED",
    "app",
    "check",
    "choose",
    "compare",
    "example",
    "fit",
    "job_app",
    "list_examples",
    "main",
    "materials",
    "run",
    "schema",
]
