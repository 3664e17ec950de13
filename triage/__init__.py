"""Arithmetic over plain values: codes, inference, ordering, explanation.

Nothing here knows files, clocks, the web or RDF; `graph` and `api` do. The compiler is imported
with the first name that needs it: whoever wants an error class or reads a code does not wait.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from triage.checking import CheckValue, check_values
    from triage.errors import TriageError
    from triage.exact import Posterior, posterior
    from triage.model import Network, Node, Parent

__all__ = [
    "CheckValue",
    "Network",
    "Node",
    "Parent",
    "Posterior",
    "TriageError",
    "check_values",
    "posterior",
]

#: Where each of the names above comes from.
_FROM: Final = {
    "CheckValue": "checking",
    "Network": "model",
    "Node": "model",
    "Parent": "model",
    "Posterior": "exact",
    "TriageError": "errors",
    "check_values": "checking",
    "posterior": "exact",
}


def __getattr__(name: str) -> Any:
    """Return one of the names above, its module imported now."""
    if name not in _FROM:
        raise AttributeError(f"module 'triage' has no attribute {name!r}")
    found = globals()[name] = getattr(import_module(f"triage.{_FROM[name]}"), name)
    return found
