"""The one-time import: how the first knowledge was made from a trade catalogue.

The catalogue, its review and the merged link list are texts outside this project.
This package is the record of how they became `graph/knowledge/*.ttl`::

    python -m tests.importer SOURCE_FOLDER

reads `catalogue.md`, `review.md`, `links.csv` and `safety.md` in that folder and
writes the Turtle. It was run once; from then on the Turtle is the knowledge and is
edited by proposals, not by running this again. Where review and catalogue differ the
review stands. What had to be decided is in `decisions/0005-knowledge-import.md`.
"""

from tests.importer.assemble import read_knowledge

__all__ = ["read_knowledge"]
