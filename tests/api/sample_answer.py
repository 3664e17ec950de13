"""An invented answer with something in every part, for tests of what shows answers."""

from __future__ import annotations

from api.documents import (
    Answer,
    CauseRow,
    CheckRow,
    EvidenceWeight,
    GateRow,
    KnowledgeUsed,
    SensorRow,
    WhileThereRow,
)

__all__ = ["LABELS", "sample_answer"]

LABELS = {
    "sg-wheel-separation": "A wheel may come off",
    "sg-pre-road-test": "Before any road test",
    "ck-wheel-nut-torque": "Wheel nut torque",
    "ck-wheel-nut-look": "Look at the wheel nuts",
    "ck-save-freeze-frame": "Save the freeze frames",
    "ck-wheel-shake-12-6": "Wheel shake, top and bottom",
    "ck-dry-park": "Dry-park check",
    "ck-inner-boot-squeeze": "Inner tie rod felt through the boot",
    "su-lift-hang": "Frame lift, wheels hanging",
    "su-ground-helper": "On its wheels with a helper",
    "rc-bearing-play": "Hub bearing play",
    "rc-outer-tie-rod-worn": "Worn outer tie-rod end",
    "rc-inner-tie-rod-worn": "Worn inner tie-rod end",
    "rc-wheel-nuts-loose": "Loose wheel nuts",
    "rc-wss-sensor-failed": "Failed wheel speed sensor",
    "sy-hum-speed": "Growl or hum with road speed",
}


def sample_answer() -> Answer:
    """Return the answer."""
    return Answer(
        case="sample",
        knowledge=KnowledgeUsed(version="7", sha256="ab" * 32),
        exact=True,
        log_evidence=-12.3,
        width=14,
        gates=(
            GateRow(
                id="sg-wheel-separation",
                level="do-not-drive",
                because=("a knock in time with the wheel",),
                closes_on=("ck-wheel-nut-torque",),
                closes_how="nuts off, seats and studs seen",
                stage="road-test",
            ),
            GateRow(
                id="sg-pre-road-test",
                level="no-road-test-until-lift-check",
                because=(),
                closes_on=("ck-wheel-nut-look",),
                stage="road-test",
            ),
        ),
        intake=("ck-save-freeze-frame",),
        causes=(
            CauseRow(
                id="rc-bearing-play@lr",
                responsibility=0.58,
                posterior=0.71,
                prior=0.04,
                low=0.48,
                high=0.73,
                deficiency="major",
                evidence=(
                    EvidenceWeight(finding="sy-hum-speed", decibans=6.1),
                    EvidenceWeight(finding="C0037-64", decibans=-0.01),
                ),
                because=("play tilts the hub: sy-hum-speed",),
            ),
            CauseRow(
                id="rc-wheel-nuts-loose@lr",
                responsibility=0.2,
                posterior=0.2,
                prior=0.01,
                low=0.2,
                high=0.2,
                deficiency="dangerous",
            ),
        ),
        checks=(
            CheckRow(
                step=1,
                id="ck-wheel-shake-12-6",
                place="lr",
                setup="su-lift-hang",
                minutes=4.0,
                change_minutes=6.0,
                value=41.0,
                chance_found=0.55,
                finds=("rc-bearing-play@lr",),
                how="rock top and bottom",
                caution="support as VM says",
                tools="dial",
                limit_source="VM",
                fooled_by="spring load",
            ),
            CheckRow(
                step=2,
                id="ck-dry-park",
                place="front",
                setup="su-ground-helper",
                minutes=8.0,
                change_minutes=3.0,
                value=12.0,
                chance_found=0.2,
                finds=("rc-outer-tie-rod-worn@lf", "rc-outer-tie-rod-worn@rf"),
                helper=True,
            ),
        ),
        while_there=(
            WhileThereRow(
                id="ck-inner-boot-squeeze",
                place="rf",
                setup="su-lift-hang",
                minutes=5.0,
                finds=("rc-inner-tie-rod-worn@rf",),
                caution="pinch",
            ),
        ),
        sensor_first=(
            SensorRow(
                part="rc-wss-sensor-failed@lr",
                posterior=0.07,
                ends_complaint=0.06,
                cost_replace_first=512.0,
                cost_look_first=258.0,
                minutes_replace_first=150.0,
                minutes_look_first=75.0,
                codes=("C0037-64",),
            ),
        ),
        questions=("C0040 has two meanings: which does the scan tool show?",),
        notes=("sy-hum-speed present: its place is open",),
        labels=LABELS,
        vehicle="Ticket 4711",
        complaint="It hums.",
        currency="EUR",
        total_minutes=21.0,
        stop_reason="nothing more is worth its time",
        changes_most=("sy-hum-speed",),
    )
