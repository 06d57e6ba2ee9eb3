"""Newton's method on a structure as one compiled loop (kernels). theory, "The rod by itself".

The loop goes from stage to stage until it ends. What kernels cannot do is left to the caller, who does it when the
loop comes back with that stage, and calls again: what callbacks add to an evaluation before it is judged (`JUDGE`), and
unsymmetric systems (`SOLVE`, `TANGENT`), which are LAPACK's.
"""

from math import isfinite, sqrt
from typing import NamedTuple

import numpy as np

from ..kernel import bundle, kernel
from .assembly import evaluate
from .elastic import Array, copy_rows
from .linear import newton_step, shifted_step
from .model import IntArray, Model, Pose, System
from .moving import advance, largest_turn

FALL = 0.4  # rad, turn along the lowest mode off an unstable state
NEAR = 1e-3  # of the largest residual met: below, an indefinite tangent is taken for an unstable state nearby
STALLED = 0.1  # of the residual before: an iteration that gains less has met round-off
MAX_TURN = 0.8  # rad, largest rotation of a frame in one iteration
ARMIJO = 1e-4  # of the energy that the slope promises
HALVINGS = 20  # of a step, beyond which its direction is no use
BLOW_UP = 1e4  # growth of the residual over the best so far that ends a loop without line search
DEAF = 1e-13  # of what the lengths of both allow, least answer of a measure to the load factor: round-off below

# how a loop ends, and its stages
DEAF_MEASURE, SINGULAR, DIVERGED, NOT_REACHED, CONVERGED = range(-4, 1)
PREDICT, START, TRY, JUDGE, SOLVE, STEP, TANGENT, KEEP = range(1, 9)

# state: load factor; load steps done; what the measure lacks, m; negative pivots (-1: none known); iterations;
# energy and residual of the trial state, 1 where prescribed unknowns are not there yet; the same where the
# step begins and the slope of the energy there; share of the step and attempts left for it; least and largest residual;
# 1 where the path's direction is known, and the load factor there
(
    S_FACTOR,
    S_DONE,
    S_TARGET,
    S_COUNT,
    S_ITERATIONS,
    S_ENERGY,
    S_NORM,
    S_MOVED,
    S_ENERGY_START,
    S_NORM_START,
    S_MOVED_START,
    S_SLOPE,
    S_SHARE,
    S_LEFT,
    S_LEAST,
    S_LARGEST,
    S_KNOWN,
    S_LAST,
    STATE,
) = range(19)


@bundle
class LoadSteps(NamedTuple):
    """Load factors to be reached one after another, K of them (0: none given), and what was found there.

    factors : shape (K,)
    poses : arrays of shape (K, N + 1, 3), (K, F, 4) and (K, T, 3)
    counts, iterations : shape (K,)
    residuals : shape (max(K, 1), M), residual of each iteration, N; at most M of them
    """

    factors: Array
    poses: Pose
    counts: IntArray
    iterations: IntArray
    residuals: Array


@bundle
class Work(NamedTuple):
    """Arrays of a loop.

    pose, trial : present state; the one evaluated last
    out : linear system of the trial state
    moves : shape (2, n), prescribed increments: still lacking, and per load factor
    ahead : shape (n,), direction of the path per load factor where `KEEP` was last met
    mode : shape (1, n), workspace
    steps : what is to be reached
    state : see the S_ indices
    """

    pose: Pose
    trial: Pose
    out: System
    moves: Array
    ahead: Array
    mode: Array
    steps: LoadSteps
    state: Array


@bundle
class Rule(NamedTuple):
    """What a loop does.

    search : line search on the energy, downhill only; else plain steps to the nearest point of the path
    row, weight : where the row is not empty the load factor is unknown and row . step + weight (factor change) = what
        a measure still lacks
    wanted, accept : residual at which a loop ends; largest residual accepted where round-off allows no better, N
    exact : of what the measure lacks, m: it counts as reached
    called : the caller adds to each evaluation
    tangent : factorise at the end, for the count and the path's direction
    """

    search: bool
    row: Array
    weight: float
    wanted: float
    accept: float
    exact: float
    called: bool
    tangent: bool


@kernel
def iterate(model: Model, work: Work, rule: Rule, stage: int) -> int:
    """Go on from a stage; returns how the loop ended (`CONVERGED` or less), or the stage that is the caller's."""
    general = model.force_at.shape[0] + model.moment_at.shape[0] > 0
    while stage > CONVERGED:
        if stage == PREDICT:
            _predict(model, work)
            stage = START
        elif stage == START or stage == TRY:
            _try(model, work, stage == START)
            stage = JUDGE
            if rule.called:
                return stage
        elif stage == JUDGE:
            stage = _judge(work, rule)
        elif stage == STEP:
            stage = _step(model, work, rule)
        elif stage == KEEP:
            stage = _keep(work)
        elif general:
            return stage
        else:
            stage = _solve(model, work, rule, stage == TANGENT)
    return stage


@kernel
def _predict(model: Model, work: Work) -> None:
    """Go along the path's direction, where it is known from `KEEP` here, to the next load factor."""
    s = work.state
    goal = work.steps.factors[int(s[S_DONE])]
    change = goal - s[S_FACTOR]
    known = s[S_KNOWN] > 0.0 and s[S_FACTOR] == s[S_LAST]
    if known and abs(change) * largest_turn(model, work.ahead) <= MAX_TURN:
        advance(model, work.pose, work.ahead, change, work.trial)
        _copy(work.pose, work.trial)
    s[S_FACTOR] = goal


@kernel
def _keep(work: Work) -> int:
    """Record the state reached and the path's direction there; what is next."""
    s, steps, k = work.state, work.steps, int(work.state[S_DONE])
    s[S_KNOWN] = 1.0 if s[S_COUNT] >= 0.0 else 0.0
    s[S_LAST] = s[S_FACTOR]
    for i in range(work.ahead.shape[0]):
        work.ahead[i] = work.out.rhs[1, i]
    if k < steps.factors.shape[0]:
        poses = steps.poses
        copy_rows(poses.x[k], work.pose.x)
        copy_rows(poses.q[k], work.pose.q)
        copy_rows(poses.psi[k], work.pose.psi)
        steps.counts[k], steps.iterations[k] = int(s[S_COUNT]), int(s[S_ITERATIONS])
        s[S_DONE] += 1.0
    return PREDICT if k + 1 < steps.factors.shape[0] else CONVERGED


@kernel
def _copy(target: Pose, source: Pose) -> None:
    copy_rows(target.x, source.x)
    copy_rows(target.q, source.q)
    copy_rows(target.psi, source.psi)


@kernel
def _try(model: Model, work: Work, start: bool) -> None:
    """Evaluate the present state (`start`), or the state a share of the step on."""
    s = work.state
    if start:
        _copy(work.trial, work.pose)
        s[S_ITERATIONS] = s[S_LEFT] = s[S_TARGET] = s[S_LARGEST] = 0.0
        s[S_LEAST] = np.inf
    else:
        advance(model, work.pose, work.out.rhs[0], s[S_SHARE], work.trial)
    s[S_ENERGY], s[S_NORM], moved = evaluate(model, work.trial, s[S_FACTOR], work.out, work.moves)
    s[S_MOVED] = 1.0 if moved else 0.0


@kernel
def _judge(work: Work, rule: Rule) -> int:
    """Whether the trial state is taken, and whether the loop has ended there."""
    s, norm = work.state, work.state[S_NORM]
    if s[S_LEFT] > 0.0 and not _good(s, rule):
        s[S_LEFT] -= 1.0
        s[S_SHARE] *= 0.5
        return TRY
    _copy(work.pose, work.trial)
    k, residuals = int(s[S_ITERATIONS]), work.steps.residuals[int(s[S_DONE])]
    if k == residuals.shape[0]:
        return NOT_REACHED
    residuals[k] = norm
    s[S_ITERATIONS] += 1.0
    s[S_LARGEST] = max(s[S_LARGEST], norm)
    if k > 0:  # the start of displacement control is an equilibrium
        s[S_LEAST] = min(s[S_LEAST], norm)
    settled = norm <= rule.wanted
    if k > 0 and not settled:  # below round-off, and no longer falling
        before = residuals[k - 1]
        settled = before <= rule.accept and STALLED * before <= norm <= rule.accept
    if settled and s[S_MOVED] == 0.0 and abs(s[S_TARGET]) <= rule.exact:
        return TANGENT if rule.tangent else CONVERGED
    if rule.search:
        return SOLVE if isfinite(norm) else NOT_REACHED
    far = norm > BLOW_UP * s[S_LEAST] and norm > BLOW_UP * rule.accept
    return DIVERGED if far or not isfinite(norm) else SOLVE


@kernel
def _good(s: Array, rule: Rule) -> bool:
    """Whether the trial state is low enough in energy, or by a tenth in residual; prescribed motion is always taken."""
    lower = s[S_ENERGY] <= s[S_ENERGY_START] + ARMIJO * s[S_SHARE] * s[S_SLOPE]
    return s[S_MOVED_START] > 0.0 or lower or s[S_NORM] < 0.9 * s[S_NORM_START] or s[S_NORM] <= rule.accept


@kernel
def _solve(model: Model, work: Work, rule: Rule, last: bool) -> int:
    """Directions toward equilibrium and per load factor; with line search an indefinite system becomes a descent."""
    s, positive = work.state, rule.search and not last
    count = newton_step(model, work.out, work.moves, positive)
    if positive and count != 0:
        fall = FALL if s[S_NORM] < NEAR * s[S_LARGEST] else 0.0
        if not shifted_step(model, work.out, work.mode, fall):
            count = -1
    s[S_COUNT] = count
    if last:
        return KEEP
    return STEP if count >= 0 else SINGULAR


@kernel
def _step(model: Model, work: Work, rule: Rule) -> int:
    """The step from the solved directions, and the share of it that turns no frame too far."""
    s, step, ahead, row = work.state, work.out.rhs[0], work.out.rhs[1], rule.row
    change = 0.0
    if row.shape[0] > 0:
        answer, lacks, one, two = rule.weight, s[S_TARGET], 0.0, 0.0
        for i in range(row.shape[0]):
            answer += row[i] * ahead[i]
            lacks -= row[i] * step[i]
            one += row[i] * row[i]
            two += ahead[i] * ahead[i]
        if abs(answer) <= DEAF * sqrt(one * two):
            return DEAF_MEASURE
        change = lacks / answer
        for i in range(row.shape[0]):
            step[i] += change * ahead[i]
    s[S_SHARE] = MAX_TURN / max(MAX_TURN, largest_turn(model, step))
    s[S_FACTOR] += s[S_SHARE] * change
    s[S_LEFT] = HALVINGS if rule.search else 0.0
    s[S_ENERGY_START], s[S_NORM_START], s[S_MOVED_START] = s[S_ENERGY], s[S_NORM], s[S_MOVED]
    s[S_SLOPE] = 0.0
    for i in range(step.shape[0]):
        s[S_SLOPE] += work.out.grad[i] * step[i]
    return TRY
