"""Ids in texts become words."""

from __future__ import annotations

from api.labels import label_of, labels_in, worded
from graph.load import load_knowledge


def test_words_take_the_place_of_known_ids_only() -> None:
    """What is not known must stay as it is, or a note would lose its meaning."""
    text = worded("rc-a@lf and rc-b: cross-check", {"rc-a": "Part A"})

    assert text == "Part A, left front and rc-b: cross-check"


def test_every_kind_of_id_finds_its_words() -> None:
    """Notes name findings, contexts, facts, codes and checks alike."""
    knowledge = load_knowledge()
    ids = [
        "rc-bearing-play",
        "sy-hum-speed",
        "cx-strike",
        "vf-wss-active",
        "dtc-yaw",
        "ck-dry-park",
    ]

    found = labels_in(knowledge, [f"{term}@lf, " for term in ids])

    assert sorted(found) == sorted(ids)
    assert found["dtc-yaw"] == "code for yaw rate signal"


def test_an_unknown_id_has_no_words() -> None:
    """Nothing is made up."""
    assert label_of(load_knowledge(), "rc-nothing-such") == ""
