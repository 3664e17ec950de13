"""Arithmetic over plain values: codes, inference, ordering, explanation.

Nothing here knows files, clocks, the web or RDF; `graph` and `api` do.
"""

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
