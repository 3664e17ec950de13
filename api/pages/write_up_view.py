"""The write-up as plain values: which questions stand on it, and what is known already.

The one idea: one question a screen. Each step asks for one thing, everything asked before is
kept, and what nobody has answered is shown as not known, never as no.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from api.documents import Answer, ChangeRow, places_of
from api.store.fold import JobState
from api.words import place_words
from graph.terms import PLACES, Fact, Gate, Knowledge
from triage.gate_closing import Answered

__all__ = [
    "STEPS",
    "GateGroup",
    "Taken",
    "context_groups",
    "fact_questions",
    "gate_groups",
    "next_step",
    "places_for",
    "questions_that_matter",
    "taken_findings",
]

#: The steps, in the order in which they are asked, with what each asks.
STEPS: Final = {
    "car": "Which car is it?",
    "work": "What was done to it lately?",
    "words": "What does the customer say?",
    "findings": "What was taken down?",
    "codes": "Which codes are stored?",
    "questions": "What would change the list most?",
    "gates": "May it be driven?",
}
#: Stages whose gates stand before the car is driven.
_ASKED: Final = frozenset({"road-test"})
QUESTIONS_SHOWN: Final = 5


@dataclass(frozen=True, slots=True)
class Taken:
    """A finding that was accepted."""

    id: str
    label: str
    place: str
    state: str
    places: tuple[tuple[str, str], ...]  # where it can be: place, words

    @property
    def key(self) -> str:
        """Return the name of its fields."""
        return f"{self.id}@{self.place}"


@dataclass(frozen=True, slots=True)
class GateGroup:
    """The questions of one gate.

    Attributes
    ----------
    questions : finding, words, what was answered so far (yes | no | skipped | "")
    asked : whether somebody has said that all of it was asked
    """

    gate: str
    label: str
    questions: tuple[tuple[str, str, str], ...]

    @property
    def asked(self) -> bool:
        """Return whether every question has a yes or a no."""
        return all(answer in ("yes", "no") for _id, _words, answer in self.questions)


def next_step(step: str) -> str:
    """Return the step after one; after the last, the bay sheet.

    Examples
    --------
    >>> next_step("car"), next_step("gates")
    ('work', 'sheet')
    """
    names = [*STEPS, "sheet"]
    return names[names.index(step) + 1] if step in STEPS else "car"


def fact_questions(knowledge: Knowledge) -> list[tuple[str, list[Fact]]]:
    """Return the questions about the car's build, with the answers that exclude each other.

    The drive is asked by itself, in a field of its own.
    """
    asked: dict[str, list[Fact]] = {}
    for fact in knowledge.facts.values():
        if not fact.id.startswith("vf-drive-"):
            asked.setdefault(fact.question, []).append(fact)
    return sorted(asked.items())


def context_groups(knowledge: Knowledge) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return what can have been done or happened, work first."""
    rows = [(key, context.label) for key, context in knowledge.contexts.items()]
    work = [row for row in rows if row[0].endswith("-recent") or row[0] in _WORK]
    when = [row for row in rows if row[0].endswith(_WHEN) or row[0] in _HAPPENED]
    rest = [row for row in rows if row not in work and row not in when]
    return [("Work on the car", work), ("When it happened", when), ("How the car lives", rest)]


_WORK: Final = (
    "cx-collision-repair", "cx-winter-wheels", "cx-second-hand-sensor", "cx-repeat-visit",
    "cx-interior-or-water", "cx-aftermarket-device", "cx-ride-changed",
)  # fmt: skip
_WHEN: Final = ("-when-it-happened",)
_HAPPENED: Final = ("cx-strike", "cx-cold-start", "cx-hot-day", "cx-engine-lamp", "cx-sat-long")


def places_for(knowledge: Knowledge, finding: str) -> tuple[tuple[str, str], ...]:
    """Return where a finding can be told to be, "somewhere" first."""
    held = knowledge.findings.get(finding) or knowledge.states.get(finding)
    if held is None:
        return ()
    hint = finding in knowledge.findings and held.scope == "vehicle"
    allowed = PLACES if hint else places_of(held.scope)
    named = [(place, place_words(place)) for place in allowed if place != "vehicle"]
    return (("", "somewhere, or the whole car"), *named)


def taken_findings(knowledge: Knowledge, state: JobState) -> list[Taken]:
    """Return the findings of a job, in the order in which they were taken down."""
    rows = []
    for seen in state.case.findings:
        held = knowledge.findings.get(seen.id) or knowledge.states.get(seen.id)
        if held is not None:
            rows.append(
                Taken(
                    seen.id,
                    held.label,
                    seen.place or "",
                    seen.state,
                    places_for(knowledge, seen.id),
                )
            )
    return rows


def questions_that_matter(answer: Answer | None) -> Sequence[ChangeRow]:
    """Return the open questions that would move the first cause most."""
    if answer is None or answer.why is None:
        return ()
    rows = [row for row in answer.why.would_change if row.kind == "finding"]
    return rows[:QUESTIONS_SHOWN]


def gate_groups(knowledge: Knowledge, state: JobState) -> list[GateGroup]:
    """Return the safety questions by gate, each question once, gravest gate first."""
    told = _told(state)
    seen: set[str] = set()
    groups = []
    gates = [gate for gate in knowledge.gates.values() if gate.stage in _ASKED]
    for gate in sorted(gates, key=lambda gate: (gate.level != "do-not-drive", gate.id)):
        rows = []
        for finding in _asked_by(gate):
            held = knowledge.findings.get(finding)
            if held is not None and finding not in seen:
                seen.add(finding)
                rows.append((finding, held.label, told.get(finding, "")))
        if rows:
            groups.append(GateGroup(gate.id, gate.label, tuple(rows)))
    return groups


def _asked_by(gate: Gate) -> list[str]:
    """Return the findings any one of which opens a gate by itself."""
    alone = [
        trigger.findings[0]
        for trigger in gate.triggers
        if len(trigger.findings) == 1
        and not (trigger.contexts or trigger.codes or trigger.verdicts or trigger.facts)
    ]
    return list(dict.fromkeys(alone))


def _told(state: JobState) -> Mapping[str, str]:
    """Return what was answered about each finding; the last word counts."""
    told = {
        event.finding: event.answer for event in state.record.events if isinstance(event, Answered)
    }
    for seen in state.case.findings:
        if seen.state == "present":
            told[seen.id] = "yes"
        elif seen.state == "absent" and seen.place is None:
            told.setdefault(seen.id, "no")
    return told
