"""What a flame does to a metal part: flame straightening and line heating by finite elements.

Write a case, run it, read what remains::

    import flamefe

    case = flamefe.Case(
        title="Line heat on a plate",
        workpiece=flamefe.Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355"),
        flames={"torch": flamefe.Flame(power_kW=4, radius_mm=18)},
        heats=[
            flamefe.LineHeat(
                flame="torch", face="top", path_mm=[[50, 100], [350, 100]], speed_mm_s=6
            )
        ],
    )
    result = flamefe.run(case)
    print(flamefe.summary_text(result))

Everything else that a case can hold stands in ``flamefe.study.case``; ``flamefe.__version__`` is
the version, as ``flamefe --version`` tells it.

The tool advises; it never certifies: local codes and licensed practice decide.
"""

from importlib import metadata

from flamefe.planning.job import Job
from flamefe.reporting.files import write_result
from flamefe.reporting.summary import summary_text
from flamefe.rules.calibration import calibrate
from flamefe.rules.card_file import read_card
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.registry import rules_for
from flamefe.study.case import (
    Bar,
    Case,
    CaseError,
    Clamp,
    Flame,
    IBeam,
    LineHeat,
    Mesh,
    MeshFile,
    OwnMaterial,
    OwnWeight,
    Plate,
    Push,
    Rest,
    Solve,
    SpotHeat,
    WedgeHeat,
)
from flamefe.study.casefile import dump_case, load_case
from flamefe.study.result import RunResult
from flamefe.study.run import run
from flamefe.study.study_file import load_study
from flamefe.study.sweep import sweep
from flamefe.study.trial import fit_flame
from flamefe.workpiece.standard import material

__all__ = [
    "Bar",
    "Case",
    "CaseError",
    "Clamp",
    "Flame",
    "IBeam",
    "Job",
    "LineHeat",
    "Mesh",
    "MeshFile",
    "OwnMaterial",
    "OwnWeight",
    "Plate",
    "Push",
    "Rest",
    "RuleInputs",
    "RunResult",
    "Solve",
    "SpotHeat",
    "WedgeHeat",
    "calibrate",
    "dump_case",
    "fit_flame",
    "load_case",
    "load_study",
    "material",
    "read_card",
    "rules_for",
    "run",
    "summary_text",
    "sweep",
    "write_result",
]

__version__: str = metadata.version("flamefe")
