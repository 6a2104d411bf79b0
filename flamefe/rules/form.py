"""Forms that are fitted: a rule's number times factors and powers with named coefficients.

    value = base (c1 u1 + c2 u2 + ...) exp(b1 z1 + b2 z2 + ...)

The base is the rule's own number. A *share* enters with u (1, or a number such as a moment ratio);
a *power* is (g / g0)^b, so z = ln(g / g0); an *exponential* is exp(b (g - g0)), so z = g - g0. The
groups g are numbers without unit, or in the unit that their expression gives.
"""

import math
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import ExtrapolationWarning, OutOfRange
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.rule import Rule

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Kind = Literal["share", "power", "exponential"]


@dataclass(frozen=True, kw_only=True)
class Group:
    """A number made of rule inputs.

    Args:
        name: in words.
        expression: in columns of a table (trade units), with + - * / ^ and functions of `math`.
        needs: rule inputs it is made of.
        value: from the inputs, SI.
    """

    name: str
    expression: str
    needs: tuple[str, ...]
    value: Callable[[RuleInputs], float]


@dataclass(frozen=True, kw_only=True)
class Term:
    """One coefficient and how it enters.

    Args:
        coefficient: its name.
        kind: "share", "power" or "exponential".
        group: g, or u of a share; None: a share of 1.
        reference: g0, the value at which a power or exponential changes nothing.
        start: value with which the rule is as it is published.
        doubt: how far a real shop may lie from a simulation, one standard deviation (chosen
            here): in units of the coefficient, of a share as a part of its value.
        meaning: in words.
    """

    coefficient: str
    kind: Kind
    group: Group | None = None
    reference: float = 1.0
    start: float = 0.0
    doubt: float = 0.2
    meaning: str = ""

    def entry(self, inputs: RuleInputs) -> float:
        """What stands beside the coefficient: u or z.

        Raises:
            OutOfRange: a power's group isn't above 0.
        """
        value = 1.0 if self.group is None else self.group.value(inputs)
        if self.kind == "share":
            return value
        if self.kind == "exponential":
            return value - self.reference
        if not value > 0:
            name = "" if self.group is None else self.group.name
            raise OutOfRange(f"The {name} is {value:g}; a power needs it above 0.")
        return math.log(value / self.reference)

    @property
    def expression(self) -> str:
        """The term in columns and the coefficient's name."""
        group = "1" if self.group is None else self.group.expression
        if self.kind == "share":
            return self.coefficient if group == "1" else f"{self.coefficient} * ({group})"
        if self.kind == "power":
            return f"(({group}) / {self.reference:g})^{self.coefficient}"
        return f"exp({self.coefficient} * (({group}) - {self.reference:g}))"


@dataclass(frozen=True, kw_only=True)
class Form:
    """A rule with coefficients that can be fitted.

    Args:
        rule: gives the quantity, its unit and the base.
        terms: shares first, then powers and exponentials.
        free: names of the coefficients that are fitted; the others stay at their start.
        base: the rule's number for coefficients at which the shares sum up to 1; None: the
            rule's own estimate.
        base_expression: the base in columns; None: "rule", for what the rule's formula gives.
        extra_needs: inputs that the base needs beside those of the rule.
        watched: inputs which the formula doesn't hold but the truth depends on; the range in
            which the fit was made covers them too.
    """

    rule: Rule
    terms: tuple[Term, ...]
    free: tuple[str, ...]
    base: Callable[[RuleInputs], float] | None = None
    base_expression: str | None = None
    extra_needs: tuple[str, ...] = ()
    watched: tuple[str, ...] = ()
    _is_share: Mask = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        shares = np.array([term.kind == "share" for term in self.terms])
        object.__setattr__(self, "_is_share", shares)
        unknown = [name for name in self.free if name not in self.names]
        if unknown or not self.free:
            raise OutOfRange(
                f"Rule {self.rule.name!r} has no coefficient {', '.join(map(repr, unknown))}; it "
                f"has {', '.join(map(repr, self.names))}."
            )

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all coefficients, in order."""
        return tuple(term.coefficient for term in self.terms)

    @property
    def starts(self) -> Array:
        """Starting value of each coefficient."""
        return np.array([term.start for term in self.terms])

    @cached_property
    def free_mask(self) -> Mask:
        """Which coefficients are fitted."""
        return np.array([name in self.free for name in self.names])

    def fitting(self, names: Sequence[str]) -> "Form":
        """The same form with other coefficients to fit, in their order.

        Raises:
            OutOfRange: a name isn't one of the form's.
        """
        for name in names:
            if name not in self.names:
                raise OutOfRange(
                    f"Rule {self.rule.name!r} has no coefficient {name!r}; it has "
                    f"{', '.join(map(repr, self.names))}."
                )
        return replace(self, free=tuple(name for name in self.names if name in names))

    def starting_at(self, coefficients: Array) -> "Form":
        """The same form with other starts; coefficients that are not fitted stay there."""
        moved = tuple(
            replace(term, start=float(value))
            for term, value in zip(self.terms, coefficients, strict=True)
        )
        return replace(self, terms=moved)

    @cached_property
    def live_terms(self) -> tuple[Term, ...]:
        """Terms that can change the value: fitted, or fixed at something else than 0."""
        return tuple(t for t in self.terms if t.coefficient in self.free or t.start != 0)

    @property
    def needs(self) -> tuple[str, ...]:
        """Rule inputs without which there is no value."""
        of_terms = [need for t in self.live_terms if t.group for need in t.group.needs]
        return tuple(dict.fromkeys((*self.rule.needs, *self.extra_needs, *of_terms)))

    def missing(self, inputs: RuleInputs) -> tuple[str, ...]:
        """What the form needs and the inputs don't hold, in words."""
        lacking = [need for need in self.needs if getattr(inputs, need) is None]
        if self.rule.part is not None and inputs.part != self.rule.part:
            lacking.insert(0, f"a {self.rule.part}")
        return tuple(name.replace("_", " ") for name in lacking)

    def entries(self, inputs: RuleInputs) -> Array:
        """Base and entry of each term for one heat, (1 + terms,); 0 for terms that don't live.

        Raises:
            OutOfRange: an input is impossible.
        """
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ExtrapolationWarning)  # the range says it
            base = self.rule.estimate(inputs).value if self.base is None else self.base(inputs)
            live = self.live_terms
            row = [term.entry(inputs) if term in live else 0.0 for term in self.terms]
        return np.array([base, *row])

    def values(self, coefficients: Array, entries: Array) -> Array:
        """Value of each row, (n,), for coefficients (terms,) and entries (n, 1 + terms)."""
        return np.asarray(self._parts(coefficients, entries)[0])

    def gradient(self, coefficients: Array, entries: Array) -> tuple[Array, Array]:
        """Values (n,) and their derivatives by each coefficient (n, terms); fixed ones are 0."""
        values, scale = self._parts(coefficients, entries)
        slopes = np.where(self._is_share, scale[..., None], values[..., None]) * entries[..., 1:]
        return values, slopes * self.free_mask

    def _parts(self, coefficients: Array, entries: Array) -> tuple[Array, Array]:
        shares = np.where(self._is_share, coefficients, 0.0)
        rows = entries[..., 1:]
        scale = entries[..., 0] * np.exp(rows @ (coefficients - shares))
        return scale * (rows @ shares), scale

    @property
    def expression(self) -> str:
        """The whole formula in columns of a table and names of coefficients."""
        live = self.live_terms
        shares = " + ".join(t.expression for t in live if t.kind == "share")
        factors = [t.expression for t in live if t.kind != "share"]
        base = self.base_expression or "rule"
        return " * ".join([f"({base})", f"({shares})", *factors])
