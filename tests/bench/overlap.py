"""Does a list for a pedal switch look like a list for a hum? A benchmark, not a test.

    python -m tests.bench.overlap

Answers every practice case and prints how many of the first six checks any two lists
share (a check counts once, whatever its place), which checks stand on most lists, and
on how many lists a check that can show a true cause stands among the first six. The
cases are invented, so the last number says that the tool runs, not how often it is right.
"""

from __future__ import annotations

import itertools
import json
import sys
from collections import Counter
from pathlib import Path

import numpy as np

from api.answering import answer_case
from api.documents import Answer, read_case
from graph.load import load_knowledge

__all__ = ["main"]

PRACTICE = Path(__file__).resolve().parents[2] / "fixtures" / "practice"
FIRST = 6


def main() -> None:
    """Print the overlap."""
    knowledge = load_knowledge()
    truth = json.loads((PRACTICE / "truth.json").read_text(encoding="utf-8"))
    lists: dict[str, list[str]] = {}
    hits = 0
    for path in sorted((PRACTICE / "cases").glob("*.json")):
        case = read_case(path)
        answer = answer_case(knowledge, case.to_input(), case_id=case.case, shop=case.shop)
        lists[path.stem] = list(dict.fromkeys(row.id for row in answer.checks))[:FIRST]
        hits += _shows(answer, truth[path.stem]["causes"])
    _report(lists, hits)


def _shows(answer: Answer, causes: list[str]) -> bool:
    """Return whether one of the first checks looks for a true cause."""
    return any(cause in row.finds for row in answer.checks[:FIRST] for cause in causes)


def _report(lists: dict[str, list[str]], hits: int) -> None:
    """Write the numbers."""
    write = sys.stdout.write
    shared = {
        pair: sorted(set(lists[pair[0]]) & set(lists[pair[1]]))
        for pair in itertools.combinations(lists, 2)
    }
    sizes = [len(common) for common in shared.values()]
    write(f"{len(lists)} lists, {len(shared)} pairs; shared among the first {FIRST}: ")
    write(f"mean {np.mean(sizes):.2f}, median {np.median(sizes):.0f}, largest {max(sizes)}\n")
    write("pairs sharing 0, 1, 2...: ")
    write(", ".join(str(sizes.count(n)) for n in range(max(sizes) + 1)) + "\n")
    write(f"a check that looks for a true cause among the first {FIRST}: {hits} of {len(lists)}\n")
    count = Counter(check for checks in lists.values() for check in checks)
    for check, often in count.most_common(8):
        write(f"  {check} on {often} lists\n")
    for pair, common in sorted(shared.items(), key=lambda item: -len(item[1]))[:5]:
        write(f"  {pair[0]} and {pair[1]} share {len(common)}: {', '.join(common)}\n")


if __name__ == "__main__":
    main()
