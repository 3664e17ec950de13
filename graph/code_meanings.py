"""From the codes of a case to the code entries they can mean.

The same number means different things in the two layouts of the fixed range. Who
says which holds, in this order: the person who picked a meaning, the layout on
the code, a vehicle fact, the other codes of the same module (a number that
exists in one layout only, and is sure, gives the module away). What is still open is
kept with all its meanings, and a question is asked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from graph.car import Car, Ledger
from graph.case import CodeRead
from graph.terms import Knowledge
from triage.codes import TroubleCode
from triage.layouts import resolve_layout
from triage.status import Status

__all__ = ["Meant", "meanings_of", "read_codes"]

#: Vehicle facts that state the layout of the whole car.
LAYOUT_FACTS = {"vf-layout-early": "earlier", "vf-layout-late": "current"}


@dataclass(frozen=True, slots=True)
class Meant:
    """One code as read, with the code ids that it can mean on this car."""

    read: CodeRead
    ids: tuple[str, ...]  # one, or several when the layout is open
    status: Status | None

    @property
    def key(self) -> str:
        """The code as written, e.g. C0051-64."""
        kind = self.read.failure_type.upper()
        return f"{self.read.code.upper()}-{kind}" if kind else self.read.code.upper()


def meanings_of(knowledge: Knowledge, notation: str) -> list[tuple[str, str]]:
    """Return (code id, layout) for every entry that a number can mean.

    A number that one entry has in both layouts holds in both; so does the current
    number of an entry of which no earlier number is known, unless another entry had
    that number in the earlier layout.
    """
    codes = knowledge.codes.values()
    earlier = [code.id for code in codes if notation in code.earlier]
    current = [code for code in codes if code.notation == notation]
    found: list[tuple[str, str]] = []
    for code in current:
        alone = not code.earlier and not earlier
        found.append((code.id, "both" if alone or code.id in earlier else "current"))
    kept = {key for key, _layout in found}
    return [*found, *((key, "earlier") for key in earlier if key not in kept)]


def read_codes(car: Car, ledger: Ledger) -> list[Meant]:
    """Return the codes that have a meaning here; note and ask about the others.

    Raises
    ------
    CodeFormatError
        If a code, a status or a layout word cannot be read.
    UnknownTermError
        If a meaning was picked that the code cannot have.
    """
    layouts = _module_layouts(car)
    found: list[Meant] = []
    for read in car.case.codes:
        code = TroubleCode.parse(read.code)
        meanings = meanings_of(car.knowledge, code.notation)
        if not meanings:
            ledger.notes.append(_without_meaning(code))
            continue
        ids = _kept(meanings, read, layouts.get(read.module, "unknown"), ledger)
        meant = Meant(read, _possible(car, ids, read, ledger), _status(read, ledger))
        if meant.ids:
            found.append(meant)
    return found


def _module_layouts(car: Car) -> dict[str, str]:
    """Return the layout of each module, where a fact or its other codes give it away."""
    for fact, layout in LAYOUT_FACTS.items():
        if fact in car.view.known:
            return {read.module: layout for read in car.case.codes}
    votes: dict[str, set[str]] = {}
    for read in car.case.codes:
        stated = {read.layout}
        if read.layout == "unknown":
            meanings = meanings_of(car.knowledge, TroubleCode.parse(read.code).notation)
            stated = {layout for _key, layout in meanings}
            if any(car.knowledge.codes[key].confidence != "H" for key, _layout in meanings):
                continue
        if read.module and len(stated) == 1 and stated <= {"current", "earlier"}:
            votes.setdefault(read.module, set()).update(stated)
    return {module: next(iter(vote)) for module, vote in votes.items() if len(vote) == 1}


def _kept(
    meanings: list[tuple[str, str]], read: CodeRead, module_layout: str, ledger: Ledger
) -> tuple[str, ...]:
    """Return the meanings that stand; ask when that is for a person to say."""
    stated = read.layout
    layout = module_layout if stated == "unknown" else stated
    resolution = resolve_layout(meanings, layout, chosen=read.meaning)
    if not resolution.ask:
        if stated == "unknown" and not read.meaning and len(resolution.kept) < len(meanings):
            ledger.notes.append(
                f"{read.code} is taken in the {layout} layout, as the car or the other codes of "
                f"its module say: {resolution.kept[0]}"
            )
        return resolution.kept
    kept = resolution.kept or tuple(key for key, _layout in meanings)
    which = " or ".join(kept)
    if resolution.kept:
        ledger.questions.append(
            f"{read.code} means {which}, by the code layout of the car: which description does "
            "the scan tool show?"
        )
    else:
        ledger.questions.append(
            f"{read.code} has no meaning in the {layout} layout, in the other it means {which}: "
            "is the layout right?"
        )
    return kept


def _possible(car: Car, ids: Iterable[str], read: CodeRead, ledger: Ledger) -> tuple[str, ...]:
    """Return the meanings that this car can have; ask when a fact rules all of them out."""
    ids = tuple(ids)
    left = tuple(key for key in ids if key not in car.view.removed)
    if not left:
        facts = ", ".join(sorted({car.view.removed[key] for key in ids}))
        ledger.questions.append(
            f"{read.code} was read, but by {facts} this car cannot have {' or '.join(ids)}: "
            "which of the two is wrong? The code is left out until then"
        )
    return left


def _status(read: CodeRead, ledger: Ledger) -> Status | None:
    """Return the status byte, and note what in it cannot hold together."""
    if not read.status:
        return None
    status = Status.parse(read.status)
    ledger.notes += [f"status {status} of {read.code} {why}" for why in status.contradictions]
    return status


def _without_meaning(code: TroubleCode) -> str:
    """Return the note on a code that no entry explains."""
    if code.control == "standard":
        return f"{code.notation} has no entry here: kept as text, it carries no weight"
    return (
        f"{code.notation} has a meaning fixed by the {code.control}: kept as text with the words "
        "of the scan tool, it carries no weight"
        if code.control == "maker"
        else f"{code.notation} lies in a reserved range: kept as text, it carries no weight"
    )
