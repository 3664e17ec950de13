"""From what people stated to evidence: codes, then findings, then verdicts.

Each statement becomes one `EvidenceItem` with everything it says about the
network, so that leaving it out leaves all of it out. The rules of each kind stand in
`graph.code_evidence`, `graph.finding_evidence` and `graph.verdict_evidence`.
"""

from __future__ import annotations

from collections.abc import Mapping

from graph.car import Car, Ledger
from graph.code_evidence import add_codes
from graph.doings import Doing
from graph.finding_evidence import add_findings
from graph.verdict_evidence import add_verdicts

__all__ = ["read_case"]


def read_case(car: Car, ledger: Ledger, doings: Mapping[str, tuple[Doing, ...]]) -> frozenset[str]:
    """Read all statements of a case into the ledger; return the doings answered.

    Where nothing that was stated is a complaint (only sights on a walk-round, say),
    every present finding stands in for one: something brought the car in.
    """
    add_codes(car, ledger)
    add_findings(car, ledger)
    if not any(item.in_complaint for item in ledger.items):
        for index, item in enumerate(ledger.items):
            if any(value is True for _node, value in item.contributions):
                ledger.items[index] = type(item)(
                    item.key, item.kind, item.contributions, in_complaint=True
                )
    return add_verdicts(car, ledger, doings)
