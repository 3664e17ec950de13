"""Two ways to look a phrase up: by its words, and by the letters in them.

The one idea: words find what was said in the same words (SQLite's full-text index with
Porter's stems, ranked by BM25), letters find what was said in other forms of them (cosine of
character 3- and 4-grams). Each gives an order of the findings, and the orders are joined by
rank, not by score: reciprocal rank fusion [1]_, whose constant 60 is theirs.

Words are put right singly by the nearest known word; nothing is guessed from whole sentences.

References
----------
.. [1] Cormack, G. V., Clarke, C. L. A., Buettcher, S. (2009). Reciprocal rank fusion
       outperforms Condorcet and individual rank learning methods. SIGIR '09. From memory.
"""

from __future__ import annotations

import difflib
import sqlite3
import threading
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from api.words_match.clauses import words_of

__all__ = ["Found", "Index"]

_CONSTANT: Final = 60.0
_FLOOR: Final = 0.12  # cosine under which letters say nothing
_DEEP: Final = 40  # findings of each order that are joined
_SPELLED: Final = 40  # unknown words of one text that are put right
_LONGEST_WORD: Final = 24
_MOST_WORDS: Final = 64  # different words of one part that are looked up


@dataclass(frozen=True, slots=True)
class Found:
    """A finding that came near, with the phrase that did it."""

    id: str
    phrase: str
    score: float
    nearness: float  # cosine of the phrase with the words asked for, 0 to 1


class Index:
    """Phrases of findings, ready to be asked.

    Parameters
    ----------
    phrases : finding id -> its label and its synonyms
    """

    def __init__(self, phrases: Mapping[str, Sequence[str]]) -> None:
        self._rows = [(id_, text) for id_, texts in phrases.items() for text in texts]
        self._worded = [words_of(text) for _, text in self._rows]
        self._known = sorted({word for words in self._worded for word in words})
        self._known_set = frozenset(self._known)
        self._grams, self._weights, self._table = _gram_table(self._worded)
        self._lock = threading.Lock()
        self._base = sqlite3.connect(":memory:", check_same_thread=False)
        self._base.execute("CREATE VIRTUAL TABLE phrase USING fts5(words, tokenize='porter ascii')")
        self._base.executemany(
            "INSERT INTO phrase(rowid, words) VALUES (?, ?)",
            [(row, " ".join(words)) for row, words in enumerate(self._worded)],
        )

    def find(self, words: Sequence[str]) -> list[Found]:
        """Return the findings near these words, nearest first."""
        asked = self._spelled(words)
        if not asked:
            return []
        letters = self._by_letters(asked)
        orders = [self._order(self._by_words(asked)), self._order(_descending(letters))]
        joined: dict[str, float] = {}
        best: dict[str, int] = {}
        for order in orders:
            for rank, row in enumerate(order[:_DEEP], start=1):
                id_ = self._rows[row][0]
                joined[id_] = joined.get(id_, 0.0) + 1.0 / (_CONSTANT + rank)
                if id_ not in best or letters[row] > letters[best[id_]]:
                    best[id_] = row
        found = [
            Found(id_, self._rows[row][1], joined[id_], float(letters[row]))
            for id_, row in best.items()
        ]
        return sorted(found, key=lambda one: (-one.score, one.id))

    def _spelled(self, words: Sequence[str]) -> list[str]:
        """Return the words with unknown ones replaced by the nearest known one, if one is near."""
        spelled, left = [], _SPELLED
        for word in dict.fromkeys(words):
            if self._is_known(word) or not 4 <= len(word) <= _LONGEST_WORD or not left:
                spelled.append(word[:_LONGEST_WORD])
                continue
            left -= 1
            alike = [
                known
                for known in self._known
                if abs(len(known) - len(word)) <= 2 and known[0] == word[0]
            ]
            near = difflib.get_close_matches(word, alike, n=1, cutoff=0.8)
            spelled.append(near[0] if near else word)
        return spelled[:_MOST_WORDS]

    def _is_known(self, word: str) -> bool:
        """Return whether the word stands in a phrase, in this or another plain form."""
        forms = {word, word.removesuffix("s"), word.removesuffix("ed"), word.removesuffix("ing")}
        return not self._known_set.isdisjoint(forms | {form + "ing" for form in forms})

    def _by_words(self, words: Sequence[str]) -> list[int]:
        """Return rows by BM25, best first."""
        query = " OR ".join(f'"{word}"' for word in words)  # words are letters and digits only
        with self._lock:
            rows = self._base.execute(
                "SELECT rowid FROM phrase WHERE phrase MATCH ? ORDER BY bm25(phrase), rowid",
                [query],
            ).fetchall()
        return [int(row) for (row,) in rows]

    def _by_letters(self, words: Sequence[str]) -> npt.NDArray[np.float64]:
        """Return the cosine of each row with the words."""
        counts = Counter(gram for gram in _grams(words) if gram in self._grams)
        vector = np.zeros(len(self._grams))
        for gram, count in counts.items():
            vector[self._grams[gram]] = np.sqrt(count) * self._weights[self._grams[gram]]
        length = float(np.linalg.norm(vector))
        if length == 0.0:
            return np.zeros(len(self._rows))
        cosines: npt.NDArray[np.float64] = self._table @ (vector / length)
        return cosines

    def _order(self, rows: Iterable[int]) -> list[int]:
        """Return the first row of each finding."""
        seen: dict[str, int] = {}
        for row in rows:
            seen.setdefault(self._rows[row][0], row)
        return list(seen.values())


def _descending(cosines: npt.NDArray[np.float64]) -> list[int]:
    """Return the rows over the floor, largest cosine first, ties in their order."""
    order = np.argsort(-cosines, kind="stable")
    return [int(row) for row in order if cosines[row] >= _FLOOR]


def _grams(words: Sequence[str]) -> Iterable[str]:
    """Yield the 3- and 4-grams of each word between its blanks."""
    for word in words:
        padded = f" {word} "
        for size in (3, 4):
            for start in range(len(padded) - size + 1):
                yield padded[start : start + size]


def _gram_table(
    worded: Sequence[Sequence[str]],
) -> tuple[dict[str, int], npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return the columns of the grams, their weights (rare ones weigh more), and unit rows."""
    counted = [Counter(_grams(words)) for words in worded]
    columns = {gram: k for k, gram in enumerate(sorted({g for row in counted for g in row}))}
    table = np.zeros((len(counted), len(columns)))
    for row, counts in enumerate(counted):
        for gram, count in counts.items():
            table[row, columns[gram]] = np.sqrt(count)
    weights = np.log((1.0 + len(counted)) / (1.0 + (table > 0).sum(axis=0))) + 1.0
    table *= weights
    lengths = np.linalg.norm(table, axis=1, keepdims=True)
    table /= np.where(lengths == 0.0, 1.0, lengths)
    return columns, weights, table
