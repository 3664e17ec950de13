"""What is kept of a car from one verdict to the next, and that nothing kept is changed."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from graph import prepared
from graph.build import compile_case
from graph.case import CaseInput, CodeRead, FindingSeen, Vehicle, VerdictGiven
from graph.compiled import CompiledCase
from graph.load import load_knowledge
from graph.terms import Knowledge

FOUND = VerdictGiven("ck-wheel-shake-12-6", "found", "lr", "rc-bearing-play", "lr")
CLEAN = VerdictGiven("ck-dry-park", "not-found", "front")


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    """Return the shipped knowledge, read once."""
    return load_knowledge()


@pytest.fixture
def case() -> CaseInput:
    """Return a car that hums, with a code and nothing checked yet; invented."""
    findings = (FindingSeen("sy-hum-speed", "present"), FindingSeen("sy-lamp-abs", "present"))
    return CaseInput(Vehicle("fwd", 9.0), codes=(CodeRead("C0037", "64"),), findings=findings)


def plain(compiled: CompiledCase) -> tuple[object, ...]:
    """Return everything of a compiled case as values that can be compared."""
    return (compiled.network.to_document(), *(getattr(compiled, name) for name in FIELDS))


FIELDS = ("evidence", "items", "complaint", "checks", "intake", "questions", "notes", "parts")


def fresh(knowledge: Knowledge, case: CaseInput) -> CompiledCase:
    """Compile a case with nothing kept from before."""
    prepared._HELD.clear()
    return compile_case(knowledge, case)


@pytest.mark.parametrize("verdicts", [(FOUND,), (CLEAN,), (FOUND, CLEAN)])
def test_a_case_is_the_same_with_and_without_what_was_kept(
    shipped: Knowledge, case: CaseInput, verdicts: tuple[VerdictGiven, ...]
) -> None:
    """A list must not depend on which car was looked at before."""
    given = replace(case, verdicts=verdicts)
    alone = plain(fresh(shipped, given))

    fresh(shipped, case)
    after = plain(compile_case(shipped, given))

    assert after == alone
    assert plain(compile_case(shipped, case)) == plain(fresh(shipped, case))


def test_a_verdict_finds_the_same_network(shipped: Knowledge, case: CaseInput) -> None:
    """Arrays and links are then there already; that is what the keeping is for."""
    first = compile_case(shipped, case)
    second = compile_case(shipped, replace(case, verdicts=(CLEAN,)))

    assert second.network is first.network
    assert len(second.checks) < len(first.checks)


def test_another_car_and_another_finding_have_another_network(
    shipped: Knowledge, case: CaseInput
) -> None:
    """Age and rules move the priors, so those of another car would be wrong here."""
    older = replace(case, vehicle=replace(case.vehicle, age_years=25.0))
    told = replace(case, findings=(*case.findings, FindingSeen("sy-lamp-brake-red", "absent")))
    networks = {id(compile_case(shipped, one).network) for one in (case, older, told)}

    assert len(networks) == 3


def test_other_knowledge_has_its_own_cars(shipped: Knowledge, case: CaseInput) -> None:
    """Equal names do not make equal knowledge."""
    other = replace(shipped, version="another")

    assert compile_case(other, case).network is not compile_case(shipped, case).network


def test_only_the_last_cars_are_kept(
    shipped: Knowledge, case: CaseInput, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A service runs for months."""
    monkeypatch.setattr(prepared, "_KEPT", 2)
    prepared._HELD.clear()
    for age in (1.0, 2.0, 3.0, 4.0):
        compile_case(shipped, replace(case, vehicle=replace(case.vehicle, age_years=age)))

    assert len(prepared._HELD) == 2


def test_many_threads_get_the_same_case(shipped: Knowledge, case: CaseInput) -> None:
    """The desk makes two lists at once, of the same car too."""
    cases = [replace(case, verdicts=verdicts) for verdicts in ((), (FOUND,), (CLEAN,))] * 4
    alone = [plain(fresh(shipped, one)) for one in cases]
    prepared._HELD.clear()

    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda one: plain(compile_case(shipped, one)), cases))

    assert together == alone
