"""`drypark network export`: the compiled network, for anyone's inference engine."""

from __future__ import annotations

from api.commands.output import write_json
from api.commands.sources import case_from, know_terms
from graph.build import compile_network
from graph.case import CaseInput
from graph.load import load_knowledge

__all__ = ["run"]


def run(case_name: str | None) -> None:
    """Write the network of a case, or of a car of which nothing is known.

    Raises
    ------
    TriageError
        If the case cannot be read or compiled.
    """
    knowledge = load_knowledge()
    case = CaseInput()
    if case_name is not None:
        document = case_from(case_name)
        know_terms(case_name, document, knowledge)
        case = document.to_input()
    write_json(compile_network(knowledge, case).to_document())
