"""Which coefficients of each rule can be fitted, and where they start.

Every rule has the form "factor times its number". Line and wedge heats have more:

- line heats: what the elastic part takes off (below 0), by the rise at which metal first yields
  over the peak's (``threshold``, where the peak is known) or over one estimated from the flame
  (``estimated``); powers of heat by thickness squared (``heat``), of the depth that heat goes
  while the flame passes (``depth``), of the flame radius by the thickness (``flame``), and an
  exponential of the depth (``through``), for plates that are heated through;
- the tendon force: powers of the strip that yields by the width (``strip``) and of the speed
  parameter (``haste``);
- the published mean of wedge heats: (``free`` + ``jacks`` Mj/Mp) 2 e_p sin(t/3) with 0.6 and 2 as
  published, powers of the angle (``angle``), the depth (``depth``) and the peak's rise (``hot``);
- confined wedges and plane sections: ``factor`` + ``jacks`` Mj/Mp, and the same powers;
- spots: powers of the heat ratio (``peak``) and of the spot's size (``size``).

A power starts at 0 and a factor at 1, so that the start is the rule as it stands.
"""

import math

from flamefe.basics.errors import OutOfRange
from flamefe.rules import groups, wedge
from flamefe.rules.form import Form, Term
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.registry import RULES, find_rule
from flamefe.rules.rule import Rule, known

FACTOR = Term(
    coefficient="factor", kind="share", start=1.0, doubt=0.3, meaning="what comes, by the rule"
)
JACKS = Term(
    coefficient="jacks",
    kind="share",
    group=groups.MOMENT,
    doubt=0.3,
    meaning="what a jacking moment adds, by moment ratio",
)
THRESHOLD = Term(
    coefficient="threshold",
    kind="share",
    group=groups.ELASTIC,
    doubt=0.3,
    meaning="what the elastic part takes off: by first yield over the peak's rise",
)
ESTIMATED = Term(
    coefficient="estimated",
    kind="share",
    group=groups.ELASTIC_ESTIMATED,
    doubt=0.3,
    meaning="what the elastic part takes off: by first yield over an estimated rise",
)
LINE_TERMS = (
    FACTOR,
    THRESHOLD,
    ESTIMATED,
    Term(coefficient="heat", kind="power", group=groups.HEAT, reference=5.0),
    Term(coefficient="depth", kind="power", group=groups.DEPTH, reference=0.5),
    Term(coefficient="flame", kind="power", group=groups.FLAME, reference=1.5),
    Term(coefficient="through", kind="exponential", group=groups.DEPTH, reference=0.5),
)
TENDON_TERMS = (
    FACTOR,
    Term(coefficient="strip", kind="power", group=groups.STRIP_SHARE, reference=0.25),
    Term(coefficient="haste", kind="power", group=groups.HASTE, reference=2.0),
)
WEDGE_POWERS = (
    Term(coefficient="angle", kind="power", group=groups.OPENING, reference=1.0),
    Term(coefficient="depth", kind="power", group=groups.WEDGE_DEPTH, reference=1.0),
    Term(coefficient="hot", kind="power", group=groups.PEAK_RISE, reference=1.0),
)
PUBLISHED_TERMS = (
    Term(
        coefficient="free",
        kind="share",
        start=0.6,
        doubt=0.3,
        meaning="share of the free bar (0.6 as published, from memory)",
    ),
    Term(
        coefficient="jacks",
        kind="share",
        group=groups.MOMENT,
        start=2.0,
        doubt=0.3,
        meaning="what a jacking moment adds, by moment ratio (2 as published, from memory)",
    ),
    *WEDGE_POWERS,
)
SPOT_TERMS = (
    FACTOR,
    Term(coefficient="peak", kind="power", group=groups.HEAT_RATIO, reference=4.0),
    Term(coefficient="size", kind="power", group=groups.SPOT_SIZE, reference=3.0),
)

LINE_WATCHED = ("flame_radius", "speed", "width", "length", "yield_stress", "diffusivity")
WEDGE_WATCHED = ("wedge_angle", "wedge_depth", "width", "thickness", "peak_C", "yield_stress",
                 "wedge_moment_ratio")  # fmt: skip
SPOT_WATCHED = ("thickness", "spot_radius", "peak_C", "yield_stress")

_TENDON_MM2 = "0.33544 * 1e-3 * expansion_um_mK * heat_per_length_J_mm / volumetric_heat_J_cm3K"
_BOUND = "1e-3 * greatest_expansion_per_heat_mm3_kJ * heat_per_length_J_mm"
_LAYERS = "1e-3 * expansion_um_mK * heat_per_length_J_mm / volumetric_heat_J_cm3K"
_X = "(heat_per_length_J_mm / thickness_mm^2)"
_UPSET = "held_upset_percent / 100"
_HALF = "tan(wedge_angle_deg * pi / 360)"
_R = "min(wedge_depth_mm / width_mm, 1)"
_HOT = "(1.8 * min(max(peak_C, 426.6666667), 650) + 32)"
_US_STEEL = (
    "max((6.1 + 0.001 * (1.8 * peak_C + 32)) * 1e-6 * (1.8 * peak_C - 38) - "
    f"1e-3 * yield_stress_MPa * (-720000 + 4200 * {_HOT} - 2.75 * {_HOT}^2) / "
    f"(youngs_modulus_GPa * (500000 + 1333 * {_HOT} - 1.111 * {_HOT}^2)), 0)"
)

EXPRESSIONS: dict[tuple[str, str], str] = {
    ("all heat upset", "developed width shrinkage at mid length"): f"{_BOUND} / thickness_mm",
    (
        "all heat upset at the face",
        "angular change at mid length",
    ): f"(180 / pi) * 6 * {_BOUND} / thickness_mm^2",
    (
        "two layers",
        "angular change at mid length",
    ): f"(180 / pi) * 3 * {_LAYERS} / thickness_mm^2",
    (
        "Satoh and Terasaki",
        "developed width shrinkage at mid length",
    ): f"thickness_mm * min(1.85e-4 * {_X}^2, 1.16e-3 * {_X})",
    (
        "tendon force",
        "shortening",
    ): f"{_TENDON_MM2} * heated_length_mm / (width_mm * thickness_mm)",
    (
        "tendon force",
        "longitudinal shrinkage of the near edge",
    ): f"{_TENDON_MM2} * heated_length_mm / (width_mm * thickness_mm) * "
    "(1 - 6 * line_offset_mm / width_mm)",
    (
        "tendon force",
        "camber",
    ): f"-{_TENDON_MM2} * 12 * line_offset_mm / (thickness_mm * width_mm^3) * heated_length_mm * "
    "(2 * length_mm - heated_length_mm) / 8",
    (
        "published mean of wedge heats",
        "closing rotation",
    ): f"1000 * 2 * {_US_STEEL} * sin(wedge_angle_deg * pi / 540)",
    ("perfect confinement", "closing rotation"): f"1000 * 2 * {_UPSET} * {_HALF}",
    (
        "plane sections",
        "closing rotation",
    ): f"1000 * {_UPSET} * {_HALF} * (6 * {_R}^2 - 4 * {_R}^3)",
    ("plane sections", "shortening"): f"{_UPSET} * {_HALF} * {_R}^2 * width_mm",
}
"""Bases in columns of a table, for wedges whose base is at the far side; by rule and quantity."""

_EXTRA = {
    "all heat upset": ("greatest_expansion_per_heat",),
    "all heat upset at the face": ("greatest_expansion_per_heat",),
    "tendon force": ("heated_length",),
}


def _published_base(inputs: RuleInputs) -> float:
    """2 e_p sin(t/3), mrad, below 0 where the base is near."""
    upset = wedge.us_steel_upset_strain(
        known(inputs, "peak_C"), known(inputs, "yield_stress"), known(inputs, "youngs_modulus")
    )
    turn = 1e3 * 2 * upset * math.sin(known(inputs, "wedge_angle") / 3)
    return -turn if inputs.wedge_base == "near" else turn


def form_of(rule: Rule) -> Form:
    """The form in which a rule is fitted, with the coefficients that are fitted by default.

    Args:
        rule: one of ``RULES``.

    Examples:
        >>> two_layers = form_of(find_rule("two layers"))
        >>> two_layers.names, two_layers.free
        (('factor', 'threshold', 'estimated', 'heat', 'depth', 'flame', 'through'), \
('factor', 'heat', 'depth'))
        >>> form_of(find_rule("tendon force", "shortening")).names
        ('factor', 'strip', 'haste')
    """
    terms: tuple[Term, ...] = (FACTOR,)
    free: tuple[str, ...] = ("factor",)
    watched: tuple[str, ...] = ()
    base = None
    if rule.name in ("all heat upset", "all heat upset at the face", "two layers"):
        terms, free, watched = LINE_TERMS, ("factor", "heat", "depth"), LINE_WATCHED
    elif rule.name == "Satoh and Terasaki":
        terms, free, watched = LINE_TERMS, ("factor", "heat"), LINE_WATCHED
    elif rule.name == "tendon force":
        terms, free, watched = TENDON_TERMS, ("factor", "strip"), LINE_WATCHED
    elif rule.name == "published mean of wedge heats":
        terms, free, watched = PUBLISHED_TERMS, ("free", "jacks"), WEDGE_WATCHED
        base = _published_base
    elif rule.name in ("perfect confinement", "plane sections"):
        terms, free = (FACTOR, JACKS, *WEDGE_POWERS), ("factor", "jacks")
        watched = WEDGE_WATCHED
    elif rule.name == "hot spot":
        terms, free, watched = SPOT_TERMS, ("factor",), SPOT_WATCHED
    return Form(
        rule=rule,
        terms=terms,
        free=free,
        base=base,
        base_expression=EXPRESSIONS.get((rule.name, rule.quantity)),
        extra_needs=_EXTRA.get(rule.name, ()),
        watched=watched,
    )


def find_form(
    name: str, quantity: str | None = None, coefficients: tuple[str, ...] | None = None
) -> Form:
    """The form of a rule by its name.

    Args:
        name: of the rule.
        quantity: what it should give; None where it gives one alone.
        coefficients: those to fit; None: the rule's default.

    Raises:
        OutOfRange: there is no such rule or coefficient, or the rule gives several quantities.

    Examples:
        >>> find_form("two layers", coefficients=("factor",)).expression
        '((180 / pi) * 3 * 1e-3 * expansion_um_mK * heat_per_length_J_mm / \
volumetric_heat_J_cm3K / thickness_mm^2) * (factor)'
    """
    form = form_of(find_rule(name, quantity))
    if coefficients is None:
        return form
    if not coefficients:
        raise OutOfRange(f"No coefficient is to be fitted; {name!r} has {', '.join(form.names)}.")
    return form.fitting(coefficients)


def fitted_rules() -> tuple[Rule, ...]:
    """Rules whose form has more than a factor, in the order of ``RULES``.

    Examples:
        >>> fitted_rules()[0].name
        'all heat upset'
    """
    return tuple(rule for rule in RULES if len(form_of(rule).terms) > 1)
