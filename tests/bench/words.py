"""How well a complaint finds its finding: every synonym taken out once and used as the question.

Leave-one-out is the honest number for words that nobody has entered yet. Run as
`python3 drypark.py bench words`.
"""

from __future__ import annotations

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


def words_rows(step: int = 1) -> list[dict[str, object]]:
    """Return the share found among the first one, three and five.

    Parameters
    ----------
    step : every so many synonyms are asked
    """
    hits, asked, started = dict.fromkeys(TOPS, 0), 0, time.perf_counter()
    for number, (id_, _, offered) in enumerate(left_out()):
        if number % step:
            continue
        asked += 1
        for top in TOPS:
            hits[top] += id_ in offered[:top]
    spent = time.perf_counter() - started
    return [
        {
            "found among the first": top,
            "of": asked,
            "found": hits[top],
            "share": hits[top] / asked if asked else 0.0,
            "seconds, nearly all of it making indexes": round(spent),
        }
        for top in TOPS
    ]
