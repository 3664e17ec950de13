"""What a look at the knowledge files found: rows that name rule, term, file and line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from triage.issues import Issue, Level

__all__ = ["ERROR", "INFO", "WARN", "Report", "Row"]

ERROR, WARN, INFO = "ERROR", "WARN", "INFO"


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that is wrong, or worth a look."""

    level: str  # ERROR | WARN | INFO
    rule: str  # name of the rule that found it
    entity: str  # id of the term, "" for a whole file
    sentence: str  # one sentence, lower case, no full stop
    where: str  # file:line
    remedy: str = "correct it there"
    property: str = ""  # the predicate it is about, as a prefixed name

    def issue(self) -> Issue:
        """Return the row in the form that `KnowledgeError` carries."""
        level: Level = "error" if self.level == ERROR else "note"
        return Issue(level, self.sentence, self.where, self.remedy)

    def __str__(self) -> str:
        return f"{self.level} {self.rule}: {self.sentence} ({self.where}); {self.remedy}"


@dataclass(frozen=True, slots=True)
class Report:
    """Everything that a validation found, worst first, with how much was looked at."""

    rows: tuple[Row, ...]
    looked_at: Mapping[str, int] = field(default_factory=dict)  # kind -> number of terms

    @property
    def counts(self) -> Mapping[str, int]:
        """Return how many rows there are of each level."""
        found = Counter(row.level for row in self.rows)
        return {level: found[level] for level in (ERROR, WARN, INFO)}

    @property
    def passed(self) -> bool:
        """Say whether there is no error."""
        return not self.counts[ERROR]

    def of(self, rule: str) -> Sequence[Row]:
        """Return the rows of one rule."""
        return tuple(row for row in self.rows if row.rule == rule)
