"""The loop on one car: ask for a check, hear its answer, until every true cause is proven.

**Proven** means: some check that can show the cause has said "found", and the posterior of the
cause, from all that was heard, is `PROOF` or more. A strong suspicion at intake is no proof. The
same exact engine judges every strategy, each time that something plausible was found. A cause
that is proven and not there would be repaired for nothing: a part bought needlessly.

Not every true cause can be proven: what its checks show is drawn as well, and some say "not
found". A cause is **provable** when all the checks that can show it, heard together, prove it.
The loop ends when every provable true cause is proven, when no check is left, or after `LIMIT`
minutes; a car not finished counts with `LIMIT`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from api.replay.bench import Bench
from api.replay.judge import add_answers
from api.replay.strategies import PROOF, Heard, Strategy, look, make
from triage.arrays import Floats
from triage.score import first_rank

__all__ = ["LIMIT", "PROOF", "Outcome", "follow", "provable", "run_strategy"]

LIMIT = 480.0  # a working day
#: The engine is asked when what was found brings the odds at least here by its own answers.
PLAUSIBLE = 1.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one strategy came to on one car."""

    rank: float  # best rank of a true cause at intake
    minutes: float  # until every provable true cause is proven, at most LIMIT
    first: float  # until the first one is proven, at most LIMIT
    proven: bool  # all of the provable ones
    needless: int  # parts bought needlessly
    missed: int  # dangerous faults on the car that nothing has found
    checks: int
    stopped: float  # minutes when nothing more was worth its time; LIMIT if never
    proven_at_stop: bool  # every true cause was proven by then


@dataclass(slots=True)
class _Job:
    """The job as it goes."""

    bench: Bench
    heard: Heard
    odds: Floats  # (causes,) odds at intake, moved by the answers on each cause alone
    minutes: float = 0.0
    checks: int = 0
    first: float = LIMIT
    stopped: float = LIMIT
    proven_at_stop: bool = True
    needless: int = 0
    left: set[str] = field(default_factory=set)  # provable true causes not proven yet
    done: set[str] = field(default_factory=set)  # causes proven, true or not

    def prove(self, cause: str) -> None:
        """Take a cause as proven now."""
        self.done.add(cause)
        if cause not in self.bench.car.present:
            self.needless += 1
        if cause in self.left:
            self.left.discard(cause)
            self.first = min(self.first, self.minutes)


def run_strategy(
    name: str, bench: Bench, left: frozenset[str], generator: np.random.Generator
) -> Outcome:
    """Run one strategy on one car.

    Parameters
    ----------
    name : key of `STRATEGIES`
    bench : the car
    left : its provable true causes
    generator : serves the random order alone

    Raises
    ------
    OverBudgetError
        If the engine would need more work than the budget allows.
    """
    return follow(make(name, bench, generator), bench, left, replace=name == "names")


def follow(
    strategy: Strategy, bench: Bench, left: frozenset[str], *, replace: bool = False
) -> Outcome:
    """Run one strategy on one car, as `run_strategy`, from wherever it comes.

    Parameters
    ----------
    strategy : says which check comes next
    bench, left : the car and its provable true causes
    replace : the parts that the codes name are replaced first
    """
    q = np.clip(bench.intake.q, 1e-12, 1.0 - 1e-12)
    job = _Job(bench, Heard(bench), q / (1.0 - q), left=set(left))
    if replace:
        _replace_named(job)
    while job.left and job.minutes < LIMIT:
        k = strategy.choose(job.heard)
        if not strategy.worth and job.stopped == LIMIT:
            job.stopped, job.proven_at_stop = job.minutes, False
        if k is None:
            break
        _do(job, k)
    proven = not job.left and job.minutes <= LIMIT
    return Outcome(
        rank=first_rank(strategy.ranking, bench.car.truth),
        minutes=job.minutes if proven else LIMIT,
        first=min(job.first, LIMIT),
        proven=proven,
        needless=job.needless,
        missed=len(bench.dangerous - job.heard.found - job.done),
        checks=job.checks,
        stopped=job.stopped,
        proven_at_stop=job.proven_at_stop and proven,
    )


def provable(bench: Bench) -> frozenset[str]:
    """Return the true causes that all checks which can show them, heard together, prove."""
    proven = []
    for cause in sorted(bench.car.truth):
        heard = Heard(bench)
        for k, offer in enumerate(bench.car.compiled.checks):
            if any(verdict.target == cause for verdict in offer.verdicts):
                _hear(bench, heard, k)
        if cause in heard.found:
            q = look(bench, heard, parts=False).q[bench.causes.index(cause)]
            if q >= PROOF:
                proven.append(cause)
    return frozenset(proven)


def _hear(bench: Bench, heard: Heard, k: int) -> None:
    """Take in the answers of one check."""
    offer, answers = bench.car.compiled.checks[k], bench.car.answers[k]
    heard.here, heard.open[k] = offer.setup, False
    add_answers(heard.whole, offer, answers, whole=True)
    add_answers(heard.located, offer, answers, whole=False)
    heard.found |= {v.target for v, here in zip(offer.verdicts, answers, strict=True) if here}


def _replace_named(job: _Job) -> None:
    """Replace the parts that the codes name, one after the other, until the complaint is gone."""
    for part in job.bench.car.compiled.parts:
        if not job.left:
            return
        job.minutes += job.bench.repair_minutes(part)
        job.prove(part)
        # A new part is in: the complaint that is still there comes from elsewhere. One that was
        # bad is known to have been, and goes on explaining what was told at intake.
        for evidence in (job.heard.whole, job.heard.located):
            evidence[part] = part in job.bench.car.present


def _do(job: _Job, k: int) -> None:
    """Do one check, hear its answers, and prove what they prove."""
    bench, heard = job.bench, job.heard
    answers = bench.car.answers[k]
    job.minutes += bench.minutes_to(heard.here, k)
    job.checks += 1
    _hear(bench, heard, k)
    plausible = False
    for row in np.flatnonzero(bench.catalogue.offer == k):
        column, here = bench.catalogue.cause[row], answers[bench.catalogue.place[row]]
        on, off = bench.catalogue.on[row], bench.catalogue.off[row]
        job.odds[column] *= on / off if here else (1.0 - on) / (1.0 - off)
        cause = bench.causes[column]
        likely = job.odds[column] >= PLAUSIBLE
        plausible |= bool(likely and cause in heard.found and cause not in job.done)
    if plausible:
        _prove(job)


def _prove(job: _Job) -> None:
    """Ask the engine, and take as proven what was found and is likely enough."""
    picture = look(job.bench, job.heard, parts=False)
    for cause, q in zip(job.bench.causes, picture.q.tolist(), strict=True):
        if q >= PROOF and cause in job.heard.found and cause not in job.done:
            job.prove(cause)
