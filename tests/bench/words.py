"""How well a complaint finds its finding: every synonym taken out once and used as the question.

Leave-one-out is the honest number for words that nobody has entered yet. Run as
`python -m tests.bench.words`; the numbers are printed and nothing else happens.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator

from api.words_match.clauses import clauses_of
from api.words_match.index import Index
from api.words_match.match import in_order
from graph.load import load_knowledge

TOPS = (1, 3, 5)


def left_out() -> Iterator[tuple[str, str, list[str]]]:
    """Yield finding, its synonym, and what is offered for it when it is not known."""
    knowledge = load_knowledge()
    phrases = {
        id_: (finding.label, *finding.customer_words)
        for id_, finding in sorted(knowledge.findings.items())
        if finding.group != "freeze-frame"
    }
    for id_, texts in phrases.items():
        for text in texts[1:]:
            rest = {**phrases, id_: tuple(one for one in texts if one != text)}
            yield id_, text, in_order(Index(rest), clauses_of(text))[: TOPS[-1]]


def main(step: int = 1) -> int:
    """Print the share found among the first one, three and five."""
    hits, asked, started = dict.fromkeys(TOPS, 0), 0, time.perf_counter()
    for number, (id_, _, offered) in enumerate(left_out()):
        if number % step:
            continue
        asked += 1
        for top in TOPS:
            hits[top] += id_ in offered[:top]
    spent = time.perf_counter() - started
    for top in TOPS:
        sys.stdout.write(f"first {top}: {hits[top]} of {asked} ({hits[top] / asked:.0%})\n")
    sys.stdout.write(f"{spent:.0f} s, nearly all of it making {asked} indexes\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
