"""Signing in: passwords, PINs on the shop's tablets, picks in the demo; and out again."""

from __future__ import annotations

from pathlib import Path

import pytest

from api.accounts.limits import Tries
from api.problems import ProblemError
from tests.api.web.shop import PASSWORD, PIN, Client, Shop, open_shop


def sign_in(client: Client, **secret: str) -> int:
    """Try to sign in; return the status."""
    status: int = client.post("/api/session", {"name": "Test technician", **secret}).status_code
    return status


def who(client: Client) -> str | None:
    """Return who is signed in."""
    person: dict[str, str] | None = client.get("/api/session").json()["person"]
    return person["name"] if person else None


def test_a_password_signs_in_and_the_cookie_is_out_of_reach(shop: Shop) -> None:
    """No script reads it, no other site sends it."""
    client = shop.anybody()

    answer = client.post("/api/session", {"name": "test TECHNICIAN", "password": PASSWORD})

    cookie = answer.headers["set-cookie"].lower()
    assert answer.status_code == 200
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "secure" not in cookie
    assert who(client) == "Test technician"


def test_over_https_the_cookie_never_travels_in_the_open(shop: Shop) -> None:
    """Secure where the connection is."""
    shop.base = "https://localhost"

    answer = shop.anybody().post("/api/session", {"name": "Test owner", "password": PASSWORD})

    assert "secure" in answer.headers["set-cookie"].lower()


@pytest.mark.parametrize(
    "given",
    [
        {"password": "wrong words in a row"},
        {"password": PASSWORD, "name": "Nobody"},
        {"pin": PIN},
        {},
        {"password": ""},
        {"pin": "000000"},
    ],
    ids=["wrong", "unknown name", "PIN without tablet", "nothing", "empty", "wrong PIN"],
)
def test_a_wrong_secret_is_told_nothing_closer(shop: Shop, given: dict[str, str]) -> None:
    """The same sentence for a wrong name, a wrong secret and a foreign tablet."""
    client = shop.anybody()

    answer = client.post("/api/session", {"name": "Test technician", **given})

    assert answer.status_code == 401
    assert answer.json()["detail"].startswith("name and password or PIN do not belong together")
    assert "set-cookie" not in answer.headers


def test_signing_out_ends_the_session_on_the_server(shop: Shop) -> None:
    """A token that was copied before is worth nothing afterwards."""
    client, thief = shop.as_role("technician"), shop.anybody()
    thief.http.cookies.set("drypark-person", client.http.cookies["drypark-person"])
    assert who(thief) == "Test technician"

    client.send("DELETE", "/api/session")

    assert who(client) is None
    assert who(thief) is None


def test_signing_in_again_ends_the_session_before(shop: Shop) -> None:
    """One browser, one person, one token: none is left lying about."""
    client = shop.as_role("technician")
    before = client.http.cookies["drypark-person"]

    client.post("/api/session", {"name": "Test owner", "password": PASSWORD})

    assert who(client) == "Test owner"
    assert shop.store.sessions.get(before) is None


def test_only_the_hash_of_a_token_is_kept(shop: Shop) -> None:
    """A copy of the database lets nobody in."""
    token = shop.as_role("technician").http.cookies["drypark-person"]

    shop.store.database.close()
    kept = b"".join(path.read_bytes() for path in shop.settings.data.iterdir() if path.is_file())

    assert token.encode() not in kept
    assert b"argon2id" in kept
    assert PASSWORD.encode() not in kept


def test_a_shared_tablet_takes_a_name_and_a_pin(shop: Shop) -> None:
    """Signed in once by a senior technician; then everybody comes with a PIN."""
    tablet = shop.as_role("senior")

    assert tablet.post("/api/device").status_code == 204
    tablet.send("DELETE", "/api/session")
    told = tablet.get("/api/session").json()

    assert told["tablet"]
    assert "Test technician" in [row["name"] for row in told["pin"]]
    assert tablet.get("/api/jobs").status_code == 401
    assert sign_in(tablet, pin=PIN) == 200
    assert who(tablet) == "Test technician"


def test_the_tablets_token_is_nobody(shop: Shop) -> None:
    """The cookie of the tablet, sent as a person's, opens nothing."""
    tablet, thief = shop.as_role("owner"), shop.anybody()
    tablet.post("/api/device")

    thief.http.cookies.set("drypark-person", tablet.http.cookies["drypark-tablet"])

    assert who(thief) is None
    assert thief.get("/api/jobs").status_code == 401


def test_a_tablet_can_be_let_go(shop: Shop) -> None:
    """A tablet that leaves the shop takes no PIN any more."""
    tablet = shop.as_role("owner")
    tablet.post("/api/device")
    cookie = tablet.http.cookies["drypark-tablet"]

    tablet.send("DELETE", "/api/device")
    tablet.http.cookies.set("drypark-tablet", cookie)
    tablet.send("DELETE", "/api/session")

    assert sign_in(tablet, pin=PIN) == 401


@pytest.mark.parametrize("role", ["trainee", "technician"])
def test_not_everybody_makes_a_tablet_the_shops(shop: Shop, role: str) -> None:
    """Whoever could enrol a device could guess PINs on it."""
    assert shop.as_role(role).post("/api/device").status_code == 403


def test_the_sixth_try_has_to_wait(shop: Shop) -> None:
    """Guessing is slow, whichever machine guesses; the right password waits too."""
    client = shop.anybody()

    wrong = [sign_in(client, password="wrong words in a row") for _ in range(5)]
    sixth = client.post("/api/session", {"name": "TEST technician ", "password": PASSWORD})
    elsewhere = shop.anybody(client=("127.0.0.9", 1))

    assert wrong == [401] * 5
    assert sixth.status_code == 429
    assert int(sixth.headers["retry-after"]) > 0
    assert sign_in(elsewhere, password=PASSWORD) == 429
    assert (
        elsewhere.post("/api/session", {"name": "Test owner", "password": PASSWORD}).status_code
        == 200
    )


def test_a_success_clears_the_name(shop: Shop) -> None:
    """Who mistypes four times and then gets it right is not locked out the next time."""
    client = shop.anybody()

    for _ in range(3):
        assert [sign_in(client, password="no") for _ in range(4)] == [401] * 4
        assert sign_in(client, password=PASSWORD) == 200


def test_one_address_can_not_try_every_name() -> None:
    """Thirty tries in five minutes from one machine, whatever the names."""
    tries = Tries()
    for number in range(30):
        tries.take("pin", f"name {number}", "192.0.2.1")

    with pytest.raises(ProblemError, match="too many tries"):
        tries.take("pin", "one more", "192.0.2.1")
    tries.take("pin", "one more", "192.0.2.2")


def test_in_the_demo_a_person_is_picked(tmp_path: Path) -> None:
    """On this machine, and from nowhere else."""
    with open_shop(tmp_path, more=lambda: {"demo": True}) as shop:
        here, elsewhere = shop.anybody(), shop.anybody(client=("192.0.2.7", 1))

        assert len(here.get("/api/session").json()["pick"]) == 4
        assert elsewhere.get("/api/session").json()["pick"] == []
        assert sign_in(elsewhere) == 401
        assert sign_in(here) == 200
        assert who(here) == "Test technician"


def test_who_left_is_out_at_once(shop: Shop) -> None:
    """Not at the next sign-in: now, on every device."""
    owner, technician = shop.as_role("owner"), shop.as_role("technician")
    person = shop.people["technician"].id
    etag = owner.get(f"/api/people/{person}").headers["etag"]

    left = owner.send(
        "PATCH", f"/api/people/{person}", {"active": False}, headers={"if-match": etag}
    )

    assert left.status_code == 200
    assert technician.get("/api/jobs").status_code == 401
    assert sign_in(shop.anybody(), password=PASSWORD) == 401


def test_a_person_is_changed_only_as_seen(shop: Shop) -> None:
    """Two owners at once: the second one is told."""
    owner = shop.as_role("owner")
    path = f"/api/people/{shop.people['trainee'].id}"
    etag = owner.get(path).headers["etag"]

    blind = owner.send("PATCH", path, {"role": "technician"})
    seen = owner.send("PATCH", path, {"role": "technician"}, headers={"if-match": etag})
    late = owner.send("PATCH", path, {"role": "senior"}, headers={"if-match": etag})

    assert (blind.status_code, seen.status_code, late.status_code) == (428, 200, 412)
    assert seen.json()["role"] == "technician"


def test_the_last_owner_stays(shop: Shop) -> None:
    """A shop without an owner could add nobody."""
    owner = shop.as_role("owner")
    path = f"/api/people/{shop.people['owner'].id}"

    for change in ({"role": "technician"}, {"active": False}):
        refused = owner.send("PATCH", path, change, headers={"if-match": "*"})
        assert refused.status_code == 409
        assert "last owner" in refused.json()["detail"]


@pytest.mark.parametrize(
    ("new", "words"),
    [
        ({"name": "New", "role": "owner"}, "an owner needs a password"),
        ({"name": "New", "role": "technician", "password": "short"}, "10 to 200 characters"),
        ({"name": "New", "role": "technician", "pin": "12"}, "4 to 12 characters"),
        ({"name": "New", "role": "technician", "pin": "12x456"}, "digits"),
        ({"name": "test Owner", "role": "technician"}, "works here already"),
        ({"name": "", "role": "technician"}, "at least 1 character"),
        ({"name": "New", "role": "king"}, "technician"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_a_person_that_will_not_do_is_refused(shop: Shop, new: dict[str, str], words: str) -> None:
    """In one sentence, and nobody is added."""
    owner = shop.as_role("owner")

    refused = owner.post("/api/people", new)

    assert refused.status_code in (409, 422)
    assert words in refused.text
    assert len(owner.get("/api/people").json()["people"]) == 4


def test_no_secret_is_told_again(shop: Shop) -> None:
    """Neither in the list nor after it was set."""
    owner = shop.as_role("owner")

    made = owner.post(
        "/api/people", {"name": "New", "role": "technician", "password": PASSWORD, "pin": PIN}
    )

    assert made.status_code == 201
    told = made.text + owner.get("/api/people").text
    assert PASSWORD not in told
    assert "argon2" not in told
