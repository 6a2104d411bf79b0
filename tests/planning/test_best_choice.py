"""The choice of heats, against all choices there are on small cases."""

import itertools

import numpy as np
import pytest

from flamefe.planning.belief import first_belief
from flamefe.planning.candidate import HeatKind, heat_from
from flamefe.planning.exact import cliques, exact
from flamefe.planning.limits import CycleRules, allowed_in
from flamefe.planning.places import places_of
from flamefe.planning.scoring import scoring_for
from flamefe.planning.search import score_of, search

KINDS = (HeatKind(name="wedge"), HeatKind(name="band", uncertain=0.2, device="jack"))


def problem(girder_library, seed, *, most=3, both=False):
    random = np.random.default_rng(seed)
    x, library = girder_library(
        stations=4 if both else 5, kinds=KINDS[: 1 + both], sides=("top",) if both else None
    )
    deviation = random.uniform(0.006, 0.014) * np.sin(np.pi * x / 12.0)
    deviation += random.normal(0.0, 0.001, x.size)
    if seed % 3 == 0:
        deviation += 0.006 * np.sin(2.0 * np.pi * x / 12.0)
    places = places_of([f"{value:g}" for value in x], 0.003)
    belief = first_belief(library.kinds, deviation, np.full(x.size, 4e-4), common=0.1 * both)
    rules = CycleRules(most_heats=most, spacing=2.3, devices={"jack": 1})
    scoring = scoring_for(belief, places, library, rules, library.repeats({}))
    allowed = allowed_in(library, rules, {}, belief.shape, places.half)
    return scoring, allowed


def all_choices(scoring, allowed):
    """Every set that keeps the rules, the slow way."""
    open_ones = np.flatnonzero(allowed.open).tolist()
    for size in range(allowed.most + 1):
        for chosen in itertools.combinations(open_ones, size):
            pairs = itertools.combinations(chosen, 2)
            if any(allowed.excludes[a, b] for a, b in pairs):
                continue
            if sum(allowed.devices[one] == "jack" for one in chosen) > 1:
                continue
            tally = scoring.of(chosen)
            mean, variance = scoring.shape(tally)
            if scoring.safe(mean, variance):
                yield float(scoring.value(mean, variance, size)), chosen


@pytest.mark.parametrize("both", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_both_ways_find_the_best_of_all_choices(girder_library, seed, both):
    scoring, allowed = problem(girder_library, seed, both=both)
    best, _ = min(all_choices(scoring, allowed))
    chosen, quick = search(scoring, allowed)
    assert quick == pytest.approx(score_of(scoring, chosen))
    assert quick <= best + 0.02  # local search: within a fiftieth of half the tolerance
    proof = exact(scoring, allowed, (), seconds=20.0)
    assert proof.score == pytest.approx(best, abs=1e-6)
    assert proof.gap < 1e-5


def test_the_bound_of_a_stopped_search_holds(girder_library):
    scoring, allowed = problem(girder_library, 0, both=True)
    best, _ = min(all_choices(scoring, allowed))
    stopped = exact(scoring, allowed, (), seconds=0.05)
    assert stopped.bound <= best + 1e-9 <= stopped.score + 2e-9


def test_mean_and_spread_are_those_of_the_belief(girder_library):
    """The sums of the score give what the belief itself says after the heats (but for the form)."""
    x, library = girder_library(kinds=(KINDS[0], HeatKind(name="band", uncertain=0.2)))
    belief = first_belief(library.kinds, 0.01 * np.sin(x / 4.0), np.full(x.size, 4e-4), common=0.2)
    heats = [library.candidates[i] for i in (1, 6, 22, 30)]
    moved = belief.after([heat_from(one) for one in heats])
    belief = moved.seen(moved.shape + 1e-3, 16e-8 * np.eye(x.size))
    rules, places = CycleRules(), places_of([str(v) for v in x], 0.003)
    scoring = scoring_for(belief, places, library, rules, library.repeats({}))
    chosen = (3, 11, 25, 38)
    mean, variance = scoring.shape(scoring.of(chosen))
    after = belief.after([heat_from(library.candidates[i]) for i in chosen])
    assert mean == pytest.approx(after.shape, rel=1e-10)
    assert variance == pytest.approx(np.diag(after.shape_covariance), rel=1e-9)
    added = np.array([0, 7, 33])
    means, variances = scoring.with_one_more(scoring.of(chosen), added)
    for row, one in enumerate(added):
        m, v = scoring.shape(scoring.of((*chosen, int(one))))
        assert means[row] == pytest.approx(m)
        assert variances[row] == pytest.approx(v)


def test_expected_excess_is_that_of_draws(girder_library):
    scoring, _ = problem(girder_library, 1)
    mean, variance = scoring.shape(scoring.of((1, 9)))
    draws = np.random.default_rng(0).normal(mean, np.sqrt(variance), size=(200_000, mean.size))
    excess = np.maximum(np.abs(draws - scoring.centre) - scoring.aim, 0.0).mean(axis=0)
    assert scoring.beyond(mean, variance) == pytest.approx(excess / scoring.half, abs=0.01)


def test_cliques_hold_every_excluded_pair(girder_library):
    _, allowed = problem(girder_library, 0)
    found = cliques(allowed)
    pairs = {pair for one in found for pair in itertools.combinations(one, 2)}
    open_ones = np.flatnonzero(allowed.open).tolist()
    wanted = {(a, b) for a, b in itertools.combinations(open_ones, 2) if allowed.excludes[a, b]}
    assert pairs == wanted
