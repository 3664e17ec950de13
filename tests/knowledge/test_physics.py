"""The knowledge read as physics: what a car with one fault must and must not show.

Every expectation here is common practice of the trade or a sentence of mechanics, no
source, and stands beside its check. The shares come from drawing each cause alone
(`forward.py`). They hold the knowledge to what was decided in 0011; they measure nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import pytest

from graph.build import compile_case, compile_network
from graph.case import CaseInput, FindingSeen, Vehicle
from graph.load import load_knowledge
from graph.terms import Finding, Knowledge
from tests.knowledge import differences
from tests.knowledge.at_first import number_of
from tests.knowledge.forward import DRAWS, chances_of, effects_of, first_places
from triage.exact import stand
from triage.model import Network, Node, Parent

#: Sign -> causes that hardly exist without it: absent, it must take weight off them.
LOUD = {
    "sy-hum-speed": ("rc-bearing-rough@lf", "rc-tyre-cupped@lr", "rc-diff-bearing-noise"),
    "sy-vib-high": ("rc-tyre-imbalance@lf", "rc-wheel-bent@lf"),
    "sy-clunk-bump@front": ("rc-ball-joint-lower-separating@lf",),
    "sy-clunk-takeup": ("rc-u-joint-worn",),
    "sy-click-turn-power@front": ("rc-cv-outer-worn@lf",),
    "sy-scrape-rotational@lf": ("rc-splash-shield-contact@lf",),
    "sy-rattle-idle": ("rc-exhaust-shield-loose",),
    "sy-noise-stops-braking": ("rc-brake-hardware-rattle@lf",),
    "sy-wallow": ("rc-sway-bar-broken@front",),
    "sy-steer-whine": ("rc-steering-fluid-low",),
    "sy-off-centre": ("rc-align-wheel-not-centred", "rc-steering-wheel-off-spline"),
    "sy-pull-follows-crown": ("rc-road-or-load",),
    "sy-pedal-spongy": ("rc-brake-air",),
    "sy-pedal-hard": ("rc-booster-weak",),
    "sy-pedal-low": ("rc-master-cylinder-bypass",),
    "sy-acts-slippery": ("rc-normal-operation",),
    "sy-slow-crank": ("rc-battery-weak",),
    "sy-lamp-mil": ("rc-engine-fault-upstream",),
    "sy-lamp-airbag": ("rc-clock-spring-damaged",),
    "sy-lamp-tpms": ("rc-tyre-pressure-low@lf",),
    "sy-lamp-abs": ("rc-bearing-reversed@lr", "rc-abs-feed-fuse"),
    "sy-wear-all-across@lf": ("rc-tyre-worn-out@lf",),
    "sy-vis-nut-missing@lf": ("rc-wheel-stud-damage@lf",),
    "sy-knock-wheel-speed@lf": ("rc-wheel-nuts-loose@lf",),
    "sy-vis-boot-torn@lf": ("rc-cv-boot-torn@lf",),
}
#: Fault at the rear -> what only a steered axle or the steering can show.
NOT_FROM_THE_REAR = {
    "rc-tyre-conicity@lr": ("sy-pull-steady", 0.2),
    "rc-tyre-pressure-low@lr": ("sy-pull-steady", 0.1),
    "rc-tyre-belt-shift@lr": ("sy-vib-wheel", 0.01),
    "rc-wheel-nuts-loose@lr": ("sy-vib-wheel", 0.01),
    "rc-tyre-imbalance@lr": ("sy-vib-wheel", 0.01),
    "rc-wheel-bent@lr": ("sy-vib-wheel", 0.01),
    "rc-ball-joint-lower-separating@lr": ("sy-freeplay", 0.01),
    "rc-spring-broken@lr": ("sy-spring-twang@lr", 0.1),
    "rc-caliper-piston-seized@lr": ("sy-pull-brake", 0.1),
    "rc-lining-contaminated@lr": ("sy-pull-brake", 0.15),
    "rc-arm-bushing-torn@lr": ("st-toe-split", 0.01),
    "rc-spring-broken@lr ": ("st-toe-split", 0.01),
}
#: Mechanical fault -> the most cars of a hundred that may store a code of the stability side.
FAR_FROM_A_CODE = {
    "rc-outer-tie-rod-worn@lf": 0.04,
    "rc-ball-joint-lower-worn@lf": 0.04,
    "rc-arm-bushing-torn@lf": 0.04,
    "rc-align-front-toe@front": 0.06,
    "rc-tyre-pressure-low@lf": 0.04,
    "rc-sway-link-worn@lf": 0.01,
}
#: Causes at places where hardly anything shows: they are found on the rack or by measuring.
SILENT = {"rc-align-cross-camber@rear"}
#: Findings that a tool shows: nobody says them in words.
SHOWN_BY_A_TOOL = "freeze-frame"


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    """Return the knowledge that is installed with the program."""
    return load_knowledge()


@pytest.fixture(scope="module")
def network(shipped: Knowledge) -> Network:
    """Return the network of a car of which nothing is known."""
    return compile_network(shipped)


def share(network: Network, cause: str, effect: str) -> float:
    """Return the share of cars with only this cause that show the effect."""
    return effects_of(network, cause.strip()).get(effect, 0.0)


def test_the_draws_agree_with_a_chain_worked_out_by_hand() -> None:
    """Two links of .8 and .5 show the end in .4 of the cars; a leak adds nothing here."""
    chain = Network(
        [
            Node("a", "cause", 0.1),
            Node("b", "state", 0.3, (Parent("a", 0.8),)),
            Node("c", "finding", 0.3, (Parent("b", 0.5),)),
        ]
    )

    drawn = chances_of(chain, ["a"])
    assert drawn["b"] == pytest.approx(0.8, abs=4 * (0.16 / DRAWS) ** 0.5)
    assert drawn["c"] == pytest.approx(0.4, abs=4 * (0.24 / DRAWS) ** 0.5)
    assert effects_of(chain, "a") == drawn


def test_there_are_loud_signs_to_sweep() -> None:
    """A sweep over nothing would pass."""
    assert (len(LOUD), sum(map(len, LOUD.values()))) == (25, 30)
    assert (len(NOT_FROM_THE_REAR), len(FAR_FROM_A_CODE)) == (12, 6)


@pytest.mark.parametrize(("sign", "causes"), LOUD.items(), ids=LOUD)
def test_a_loud_sign_that_is_absent_takes_weight_off(
    network: Network, sign: str, causes: tuple[str, ...]
) -> None:
    """A rough bearing that does not hum is hardly a rough bearing (common practice)."""
    state = stand(network, {sign: False}, rough=True)
    after = dict(zip(network.causes, state.q.tolist(), strict=True))

    for cause in causes:
        assert after[cause] < 0.55 * network.nodes[cause].base, cause


@pytest.mark.parametrize(
    ("cause", "effect", "most"), [(c, *row) for c, row in NOT_FROM_THE_REAR.items()]
)
def test_a_rear_fault_does_not_speak_through_the_steering(
    network: Network, cause: str, effect: str, most: float
) -> None:
    """Only the steered wheels turn the rim, and a rear side force does not pull it."""
    assert share(network, cause, effect) <= most


@pytest.mark.parametrize(("cause", "most"), FAR_FROM_A_CODE.items(), ids=FAR_FROM_A_CODE)
def test_slack_and_wear_seldom_store_a_stability_code(
    network: Network, cause: str, most: float
) -> None:
    """The angle runs true enough within play; a code needs a steady offset."""
    drawn = effects_of(network, cause)

    assert max(drawn.get(code, 0.0) for code in ("dtc-yaw", "dtc-sas", "dtc-esc")) <= most


def test_a_loose_hub_sets_a_wheel_speed_code_on_about_one_car_in_three(network: Network) -> None:
    """Handling note of the sources: it makes noise far more often than it sets a code."""
    drawn = effects_of(network, "rc-bearing-play@lf")

    assert 0.2 < drawn["dtc-wss-lf"] < 0.4
    assert drawn["sy-hum-speed"] > 1.8 * drawn["dtc-wss-lf"]


def test_a_loose_wheel_hardly_ever_sets_a_wheel_speed_code(network: Network) -> None:
    """Absence of a code never clears a wheel (handling note of the sources)."""
    assert share(network, "rc-wheel-nuts-loose@lf", "dtc-wss-lf") < 0.05


def test_no_cause_makes_a_chassis_code_certain(shipped: Knowledge, network: Network) -> None:
    """Parallel routes told as one event each would make one; the tyre sensor's own may be."""
    codes = {key for key in shipped.codes if key != "dtc-tpms-sensor"}
    swept = 0
    for cause in shipped.causes.values():
        for place in first_places(cause.scope):
            node = cause.id if place == "vehicle" else f"{cause.id}@{place}"
            drawn = effects_of(network, node, 1_000)
            swept += 1
            assert max((drawn.get(key, 0.0) for key in codes), default=0.0) < 0.92, node

    assert swept > 190


def test_an_effect_is_shown_by_every_cause(shipped: Knowledge, network: Network) -> None:
    """What fewer than one car in four shows by anything would never be looked for."""
    silent = {}
    for cause in shipped.causes.values():
        for place in first_places(cause.scope):
            node = cause.id if place == "vehicle" else f"{cause.id}@{place}"
            drawn = effects_of(network, node, 1_000)
            signs = [v for key, v in drawn.items() if key.startswith(("sy-", "dtc-"))]
            if max(signs, default=0.0) < 0.25:
                silent[node] = max(signs, default=0.0)

    assert set(silent) == SILENT


def test_a_missing_wheel_nut_opens_the_gate(shipped: Knowledge) -> None:
    """49 CFR 570.10 (c): nuts and bolts in place and tight; nobody drives without."""
    gate = shipped.gates["sg-wheel-separation"]
    triggers = [t for t in gate.triggers if t.findings == ("sy-vis-nut-missing",)]

    assert gate.level == "do-not-drive"
    assert [(t.level, t.contexts) for t in triggers] == [("", ())]


def test_a_lamp_or_sensor_cause_is_never_more_than_major(shipped: Knowledge) -> None:
    """Directive 2014/45/EU, Annex I: items 1.6 (ABS), 2.6 (EPS), 7.12 (ESC) stop at major.

    Whatever is an electrical or calibration cause of an ABS, stability or steering-assist
    lamp is no wheel, joint or brake line about to let go.
    """
    lamps = {"sy-lamp-abs", "sy-lamp-esc", "sy-lamp-eps", "sy-lamp-esc-flash"}
    reach = _sources_of(shipped, lamps)
    swept = [
        cause
        for cause in shipped.causes.values()
        if cause.is_part or (cause.id in reach and cause.nature in ("electrical", "calibration"))
    ]

    assert len(swept) > 25
    # The booster is named by a code and is a brake part, not a sensor (item 1.1.10).
    assert {c.id for c in swept if c.deficiency == "dangerous"} <= {"rc-booster-weak"}
    assert {c.id for c in swept if c.safety == "S3"} <= {"rc-booster-weak"}


def _sources_of(knowledge: Knowledge, targets: set[str]) -> set[str]:
    """Return everything from which one of the targets can be reached."""
    found = set(targets)
    active = [link for link in knowledge.links if not link.deprecated]
    while more := {link.source for link in active if link.target in found} - found:
        found |= more
    return found


def test_every_finding_that_a_customer_can_tell_has_three_phrases(shipped: Knowledge) -> None:
    """Complaint search needs words; freeze frames are shown by a tool and have none."""
    told = [f for f in shipped.findings.values() if f.group != SHOWN_BY_A_TOOL]

    assert len(told) == 163 - 16 + 14
    assert [f.id for f in told if len(f.customer_words) < 3] == []
    assert [f.id for f in shipped.findings.values() if f not in told and f.customer_words] == []


def test_a_phrase_belongs_to_one_finding(shipped: Knowledge) -> None:
    """A sentence that leads to two findings leads to neither."""
    owners: dict[str, list[str]] = {}
    for finding in shipped.findings.values():
        for phrase in finding.customer_words:
            owners.setdefault(phrase.lower(), []).append(finding.id)

    assert len(owners) > 480
    assert {phrase: ids for phrase, ids in owners.items() if len(ids) > 1} == {}


def test_phrases_are_plain_words(shipped: Knowledge) -> None:
    """No ids, no numbers with units, no shouting: people talk otherwise."""
    phrases = [p for f in shipped.findings.values() for p in f.customer_words]

    assert [p for p in phrases if re.search(r"\b(sy|st|rc|ck|dtc)-|\bmph\b|[!;{}<>]", p)] == []
    assert max(map(len, phrases)) < 70


def test_every_change_names_its_reader_and_its_reason(shipped: Knowledge) -> None:
    """An added link says who and why; a changed one what it was; a rejected one stays."""
    by_number = {number_of(link): link for link in shipped.links}
    added = [x for n, x in by_number.items() if n >= differences.FIRST_ADDED_LINK]
    changed = [x for x in shipped.links if x.id in differences.STRENGTHS_AT_FIRST]

    assert (len(added), len(changed)) == (111, 6)
    assert {x.provenance.author for x in added + changed} == {"ag-physics-review"}
    assert {(x.provenance.basis, x.provenance.date) for x in added} == {("estimate", "2026-11-25")}
    assert all(len(x.mechanism) >= 17 for x in added)
    assert all(x.provenance.note.startswith("was ") for x in changed)
    assert all(
        x.strength != differences.STRENGTHS_AT_FIRST[x.id] and "decision 0011" in x.provenance.note
        for x in changed
    )


def test_a_rule_that_a_finding_made_readable_holds_by_it(shipped: Knowledge) -> None:
    """What was for a person to answer ("windy days only") is for a program now, and weighs once."""
    for rule, key in differences.RULES_READABLE.items():
        case = CaseInput(
            Vehicle("fwd", 6.0, 90_000.0, salted_roads=True),
            findings=(FindingSeen(key, "present"), FindingSeen("sy-pull-steady", "present")),
        )
        notes = compile_case(shipped, case).notes

        assert any(note.startswith("rc-road-or-load: odds times") for note in notes), rule
        assert any(note.startswith(f"{key} present: left unscored") for note in notes), rule


@pytest.mark.parametrize("onset", ["sy-onset-sudden", "sy-onset-gradual"])
def test_how_it_began_is_evidence_and_no_complaint(shipped: Knowledge, onset: str) -> None:
    """What only says when a thing happens cannot be what the car came for."""
    case = CaseInput(
        findings=(FindingSeen("sy-hum-speed", "present"), FindingSeen(onset, "present"))
    )
    compiled = compile_case(shipped, case)

    assert compiled.complaint == {"sy-hum-speed"}
    assert compiled.evidence[onset] is True


def test_breakage_and_wear_are_told_apart_by_how_it_began(shipped: Knowledge) -> None:
    """A joint wears, a rod is bent at once (mechanics); the answer leans, and no more."""
    told = {
        word: posterior_of(
            shipped, FindingSeen("sy-wander", "present"), FindingSeen(word, "present")
        )
        for word in ("sy-onset-sudden", "sy-onset-gradual")
    }

    joint, rod = "rc-outer-tie-rod-worn@lf", "rc-tie-rod-bent@lf"
    assert told["sy-onset-gradual"][joint] > 1.1 * told["sy-onset-sudden"][joint]
    assert told["sy-onset-sudden"][rod] > 1.1 * told["sy-onset-gradual"][rod]


def posterior_of(knowledge: Knowledge, *seen: FindingSeen) -> Mapping[str, float]:
    """Return the posteriors of a case of findings alone."""
    compiled = compile_case(knowledge, CaseInput(findings=seen))
    state = stand(compiled.network, compiled.evidence, rough=True)
    return dict(zip(compiled.network.causes, state.q.tolist(), strict=True))


def test_findings_that_were_added_are_known_by_their_author(shipped: Knowledge) -> None:
    """Whoever doubts one can see at once which reading it came from."""
    mine = [f for f in shipped.findings.values() if _author(f) == "ag-physics-review"]

    assert {f.id for f in mine} == differences.FINDINGS_ADDED
    assert all(f.discriminates for f in mine)


def _author(finding: Finding) -> str:
    return finding.provenance.author
