"""Write the knowledge files from a folder with the sources."""

from __future__ import annotations

import sys
from pathlib import Path

from graph.write import write_knowledge
from tests.importer import read_knowledge

KNOWLEDGE = Path(__file__).resolve().parents[2] / "graph" / "knowledge"


def main(arguments: list[str]) -> int:
    """Read the sources and write one Turtle file a subject area; return the exit code."""
    if len(arguments) != 1:
        sys.stderr.write("give the folder that holds catalogue.md, review.md and links.csv\n")
        return 2
    files = write_knowledge(read_knowledge(Path(arguments[0])))
    for old in KNOWLEDGE.glob("*.ttl"):
        old.unlink()
    for name, turtle in files.items():
        (KNOWLEDGE / name).write_text(turtle, encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
