"""Reading over HTTP: words, codes, terms; nothing is written into a job by it."""

from __future__ import annotations

import pytest

from tests.api.web.shop import Shop, known


def test_codes_are_read_as_on_the_command_line(shop: Shop) -> None:
    """The same reading as `drypark decode`."""
    trainee = shop.as_role("trainee")

    told = trainee.post("/api/decode", {"text": "C0051-64 and nonsense"}).json()["document"]

    assert "C0051" in str(told)
    assert shop.store.jobs.list("shop") == []


def test_nothing_readable_is_an_answer_too(shop: Shop) -> None:
    """A live reading while somebody types must not be an error at each letter."""
    answer = shop.as_role("trainee").post("/api/decode", {"text": "C00"})

    assert answer.status_code == 200


def test_the_customers_words_are_offered_findings(shop: Shop) -> None:
    """At most five, each a finding of the knowledge, none chosen."""
    answer = shop.as_role("technician").post(
        "/api/complaint", {"words": "it hums at highway speed and gets louder when I swerve left"}
    )

    offers = answer.json()["offers"]
    assert 0 < len(offers) <= 5
    assert all(row["id"] in known().findings for row in offers)
    assert any(row["id"].startswith("sy-hum") for row in offers)


@pytest.mark.parametrize("path", ["/api/complaint", "/api/decode"])
@pytest.mark.parametrize("text", ["", "x" * 4001, "\u0000"], ids=["empty", "long", "nul"])
def test_what_no_person_types_is_refused(shop: Shop, path: str, text: str) -> None:
    """One shape, one sentence."""
    field = "words" if path == "/api/complaint" else "text"

    assert shop.as_role("technician").post(path, {field: text}).status_code == 422


def test_a_term_is_shown_with_its_links(shop: Shop) -> None:
    """With or without a place behind it; unchanged until the knowledge changes."""
    trainee = shop.as_role("trainee")

    term = trainee.get("/api/knowledge/rc-bearing-play@lr")
    again = trainee.get(
        "/api/knowledge/rc-bearing-play", headers={"if-none-match": term.headers["etag"]}
    )

    told = term.json()
    assert (told["id"], told["table"]) == ("rc-bearing-play", "causes")
    assert told["links"]
    assert all("rc-bearing-play" in (row["source"], row["target"]) for row in told["links"])
    assert again.status_code == 304


def test_every_term_can_be_shown(shop: Shop) -> None:
    """Whatever a term holds, it is JSON."""
    trainee, asked = shop.as_role("trainee"), 0
    for table in ("codes", "findings", "states", "causes", "checks", "setups", "gates", "facts"):
        for term in list(getattr(known(), table))[:12]:
            assert trainee.get(f"/api/knowledge/{term}").status_code == 200
            asked += 1

    assert asked > 70


def test_an_unknown_term_names_the_nearest(shop: Shop) -> None:
    """A mistyped id is the usual case."""
    answer = shop.as_role("trainee").get("/api/knowledge/rc-bearing-pley")

    assert answer.status_code == 404
    assert "rc-bearing-play" in answer.json()["detail"]
