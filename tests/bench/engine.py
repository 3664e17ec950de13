"""How long exact inference takes, beside a general engine in the same run.

(a) is all posteriors of one case from scratch: folding, order, tables. (a)+(b) values
every candidate check as well. Everything runs on one thread, and every network in a process
of its own, so that the peak memory is that network's. Times are processor time of that process: on
a busy machine the clock would measure the others. A time is the median of three runs.

The hard peer (`tests.bench.peer`) gets the same pruned and factored form. Its posteriors
must agree with ours before its time counts; the row says for how many cases they did.
For (a)+(b) it is timed on a few checks and extrapolated to all whose node it has: the others
it is given for nothing. The Bayes-net engines get the network as a user would
write it down, and only where no node has more parents than its table could hold.
"""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from tests.bench.networks import SIZES, make_cases, make_network
from triage.compiling import compile_case as fold_and_plan
from triage.exact import posterior
from triage.model import Network
from triage.stakes import Stakes
from triage.value import Offer, look_ahead

__all__ = ["GOALS", "engine_rows"]

TOP = Path(__file__).resolve().parent.parent.parent
SEEDS = (1, 2, 3)
CATALOGUE = "catalogue"
#: Milliseconds of (a) at p50 and p95, of (a)+(b), and the median ratio to the hard peer of both.
GOALS = {
    "S": (0.5, 5.0, 1.5, 20.0, 12.0, 150.0),
    "M": (0.5, 8.0, 3.0, 40.0, 25.0, 350.0),
    "L": (0.3, 2.5, 3.0, 20.0, 40.0, 650.0),
    "XL": (0.35, 1.0, 4.0, 15.0, 50.0, 800.0),
    CATALOGUE: (5.0, 60.0, 30.0, 300.0, 10.0, 100.0),
}
_MEMORY = 300.0  # MB
_TOLERANCE = 1e-9  # see `tests.bench.peer`
_FIGURES = ("(a) p50 ms", "(a) p95 ms", "(a)+(b) p50 ms", "(a)+(b) p95 ms")
_RATIOS = ("hard peer / (a) p50", "hard peer / (a)+(b) p50, extrapolated from 2 checks")
_CHECKS = 2  # checks of each case on which the peer is timed
_WORK = 3e8  # products: cases of more predicted work are counted, not run ...
_PEER_WORK = 2e6  # ... and this is what the peer is asked to do
Case = Mapping[str, bool | float]


def engine_rows(networks: Sequence[str], cases: int, peers: int) -> list[dict[str, object]]:
    """Return one row for each network.

    Parameters
    ----------
    networks : S, M, L, XL or catalogue
    cases : how many for each seed; the catalogue has those it has
    peers : how many of them the peers get
    """
    rows = []
    for name in networks:
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.engine", name, str(cases), str(peers)],
            cwd=TOP,
            stdout=subprocess.PIPE,
            check=True,
            env={**os.environ, "NUMBA_NUM_THREADS": "1"},
        )
        rows.append(json.loads(done.stdout))
    return rows


def _asked(name: str, cases: int) -> Iterator[tuple[Network, Case, Sequence[Offer]]]:
    """Go through the cases of one network and the checks to value."""
    if name == CATALOGUE:
        from api.documents import read_case
        from graph.build import compile_case
        from graph.load import load_knowledge

        knowledge = load_knowledge()
        for path in sorted((TOP / "fixtures" / "practice" / "cases").glob("*.json")):
            compiled = compile_case(knowledge, read_case(path).to_input())
            yield compiled.network, compiled.evidence, compiled.checks
        return
    for seed in SEEDS:
        network = make_network(SIZES[name], seed)
        for case in make_cases(network, cases, seed + 100):
            yield network, case, _offers(network, case, SIZES[name].checks)


def _offers(network: Network, case: Case, checks: int) -> list[Offer]:
    """Return that many one-verdict checks, on causes that the case touches as far as there are."""
    near = network.ancestors(case)
    causes = sorted(network.causes, key=lambda key: key not in near)[:checks]
    return [
        SimpleNamespace(
            id=key,
            place="vehicle",
            setup="here",
            minutes=5.0,
            verdicts=[
                SimpleNamespace(target=key, p_found_if_on=0.85, p_found_if_off=0.1, node=None)
            ],
        )
        for key in causes
    ]


def measure(name: str, cases: int, peers: int) -> dict[str, object]:
    """Return the row of one network."""
    own: list[float] = []
    both: list[float] = []
    widths: list[int] = []
    later: list[Callable[[], dict[str, float]]] = []
    told: list[dict[str, float]] = []
    dear, memory, last = 0, 0.0, None
    for network, case, offers in _asked(name, cases):
        if name != CATALOGUE and last is not None and network is not last:
            memory = memory or _peak()  # of one network, and before any peer
            told += [one for do in later if (one := _if_there_is_room(do)) is not None]
            later.clear()
        last = network
        compiled = fold_and_plan(network, case)
        widths.append(compiled.width)
        if compiled.cost > _WORK:
            dear += 1
            continue
        ask, value = _tasks(network, case, offers)
        if not own:
            ask()
            value()
        own.append(_milliseconds(ask))
        both.append(_milliseconds(value))
        if len(own) % max(1, cases // peers) == 0 and compiled.cost <= _PEER_WORK:
            here = {"own": own[-1], "both": both[-1]}
            later.append(partial(_beside, network, case, offers, here))
    memory = memory or _peak()
    told += [one for do in later if (one := _if_there_is_room(do)) is not None]
    return (
        {"network": name, "cases": len(own), "too dear, not run": dear}
        | {"width p50 (most)": f"{int(np.median(widths))} ({max(widths)})"}
        | _row(name, own, both, told)
        | {"peak memory MB": {"is": memory, "goal": _MEMORY}}
    )


def _if_there_is_room(do: Callable[[], dict[str, float]]) -> dict[str, float] | None:
    """Return what the peers take; None where they run out of memory: then they have not run."""
    try:
        return do()
    except Exception as error:
        if "bad_alloc" not in str(error):
            raise
        return None


def _peak() -> float:
    """Return the peak memory of this process, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def _tasks(
    network: Network, case: Case, offers: Sequence[Offer]
) -> tuple[Callable[[], object], Callable[[], object]]:
    """Return what is timed: all posteriors, and every check valued as well."""
    return partial(posterior, network, case), partial(look_ahead, network, case, offers, Stakes())


def _milliseconds(do: Callable[[], object], runs: int = 3) -> float:
    """Return the median time of a few runs; one run where that takes long."""
    took: list[float] = []
    while len(took) < runs and sum(took) < 2000.0:
        started = time.process_time()
        do()
        took.append(1000.0 * (time.process_time() - started))
    return statistics.median(took)


def _beside(
    network: Network, case: Case, offers: Sequence[Offer], here: dict[str, float]
) -> dict[str, float]:
    """Return what the peers take, and by how much the hard peer's posteriors differ."""
    from tests.bench.peer import as_users_do, field_of

    field = field_of(network, case)
    took = _milliseconds(lambda: field.posteriors(field.engine()))
    _, answer, engine = field.timed()
    ours = posterior(network, case).causes
    apart = [abs(p - ours[key]) / max(ours[key], 1e-300) for key, p in answer.items()]
    nodes = sorted({v.target for o in offers for v in o.verdicts} & set(answer))
    some = nodes[:: max(1, len(nodes) // _CHECKS)][:_CHECKS]
    each = statistics.fmean(field.timed_check(engine, key) for key in some) if some else 0.0
    out = {"peer": took, "apart": max(apart, default=0.0), "peer both": took + each * len(nodes)}
    user = as_users_do(network, case)
    return here | out | ({"lazy": user[0], "shafer": user[1]} if user else {})


def _row(
    name: str, own: list[float], both: list[float], told: list[dict[str, float]]
) -> dict[str, object]:
    """Return the figures of one network, the goal beside each."""
    goals = GOALS[name]
    figures = [float(np.quantile(times, q)) for times in (own, both) for q in (0.5, 0.95)]
    agreed = [one for one in told if one["apart"] <= _TOLERANCE]
    ratios = [
        [one["peer"] / one["own"] for one in agreed],
        [one["peer both"] / one["both"] for one in agreed],
    ]
    medians = [statistics.median(some) if some else None for some in ratios]
    out: dict[str, object] = {
        head: {"is": value, "goal": goal}
        for head, value, goal in zip(
            (*_FIGURES, *_RATIOS), (*figures, *medians), goals, strict=True
        )
    }
    out["hard peer p50 ms"] = statistics.median([one["peer"] for one in agreed]) if agreed else None
    out["hard peer ran, agreed"] = f"{len(told)}, {len(agreed)}"
    out["apart at most"] = max((one["apart"] for one in told), default=None)
    for head, engine in (("lazy", "lazy propagation"), ("shafer", "Shafer-Shenoy")):
        took = [one[head] / one["own"] for one in told if head in one]
        out[f"Bayes net, {engine} / (a) p50"] = statistics.median(took) if took else None
        out[f"Bayes net, {engine} ran"] = len(took)
    return out


if __name__ == "__main__":
    sys.stdout.write(json.dumps(measure(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))))
