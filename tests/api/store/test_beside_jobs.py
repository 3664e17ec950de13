"""What is kept beside the jobs: answers, photos, people, sessions; on whatever database."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from api.store import events as happened
from api.store.engine import Store
from api.store.people import PersonError
from api.store.photos import MAX_BYTES, PhotoError
from tests.api.store.making import OTHER_SHOP, SHOP, START, open_job

_JPEG = b"\xff\xd8\xff\xe0 invented"
_HASH = "$argon2id$v=19$m=8,t=1,p=1$c29tZXNhbHQ$aW52ZW50ZWQ"


def test_an_answer_is_shown_again_exactly(store: Store) -> None:
    """The first one under a key stands."""
    document = '{"checks": ["ck-dry-park"], "said": "½ mm"}\n'

    store.answers.keep("f" * 64, document)
    store.answers.keep("f" * 64, "something else")

    assert store.answers.get("f" * 64) == document
    assert store.answers.get("0" * 64) is None


def test_a_photo_is_kept_once_and_belongs_to_its_job(store: Store) -> None:
    """Another job, or another shop, does not get it."""
    one, other = open_job(store).job, open_job(store).job

    sha = store.photos.put(SHOP, one, _JPEG)

    assert store.photos.put(SHOP, one, _JPEG) == sha
    assert store.photos.get(SHOP, one, sha) == _JPEG
    for shop, job in ((SHOP, other), (OTHER_SHOP, one)):
        with pytest.raises(PhotoError, match="no such photo"):
            store.photos.get(shop, job, sha)


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"\xff\xd8\xff" + bytes(MAX_BYTES)])
def test_what_is_no_small_photo_is_refused(store: Store, data: bytes) -> None:
    """Nothing else may be put where photos are served from."""
    job = open_job(store).job

    with pytest.raises(PhotoError, match="no JPEG of at most"):
        store.photos.put(SHOP, job, data)


def test_people_are_found_by_name_and_never_twice(store: Store) -> None:
    """Two of a name in one shop would make every signature doubtful."""
    ada = store.people.add(SHOP, "  Ada   Example ", "technician", pin=_HASH)

    assert store.people.by_name(SHOP, "ADA example") == store.people.get(ada.id) == ada
    assert (ada.name, ada.has_pin, ada.has_password) == ("Ada Example", True, False)
    assert store.people.secrets(ada.id) == (None, _HASH)
    assert store.people.by_name(OTHER_SHOP, "Ada Example") is None
    with pytest.raises(PersonError, match="there is a 'ada example' already"):
        store.people.add(SHOP, "ada example", "senior")


@pytest.mark.parametrize(
    ("name", "role", "secret", "said"),
    [
        ("", "technician", None, "needs a name"),
        ("a\x1bb", "technician", None, "needs a name"),
        ("Ada", "king", None, "there is no role 'king'"),
        ("Ada", "technician", "1234", "only as its argon2 hash"),
    ],
)
def test_a_person_that_will_not_do_is_refused(
    store: Store, name: str, role: happened.Role, secret: str | None, said: str
) -> None:
    """Above all a secret that nobody hashed."""
    with pytest.raises(PersonError, match=said):
        store.people.add(SHOP, name, role, password=secret)

    assert store.people.list(SHOP) == []


def test_a_shop_keeps_an_owner(store: Store) -> None:
    """Without one nobody could let anybody in again."""
    assert not store.people.has_owner()
    one = store.people.add(SHOP, "One", "owner")
    two = store.people.add(SHOP, "Two", "owner", password=_HASH)
    store.people.set_role(one.id, "technician")

    with pytest.raises(PersonError, match="Two is the last owner"):
        store.people.set_active(two.id, False)
    with pytest.raises(PersonError, match="Two is the last owner"):
        store.people.set_role(two.id, "senior")
    with pytest.raises(PersonError, match="no such person"):
        store.people.set_active("nobody", True)

    assert store.people.has_owner(SHOP)
    assert not store.people.has_owner(OTHER_SHOP)
    store.people.set_active(one.id, False)
    assert [person.name for person in store.people.list(SHOP)] == ["Two"]
    assert len(store.people.list(SHOP, active_only=False)) == 2


def test_signing_out_ends_it_everywhere(store: Store) -> None:
    """A token on a lost tablet must be worth nothing from then on."""
    ada, sam = (store.people.add(SHOP, name, "technician") for name in ("Ada", "Sam"))
    bay, lift, other = (store.sessions.create(p, "tablet") for p in (ada, ada, sam))
    signed = store.sessions.get(bay)

    assert signed
    assert (signed.person, signed.device) == (ada.id, "tablet")
    store.sessions.drop(bay)
    assert store.sessions.get(bay) is None
    assert store.sessions.drop_all(ada) == 1
    assert store.sessions.get(lift) is None
    store.people.set_active(sam.id, False)
    assert store.sessions.get(other) is None
    store.people.set_active(sam.id, True)
    assert store.sessions.drop_older(START.replace(year=2030)) == 1


def test_tokens_are_not_in_the_records(store: Store) -> None:
    """Whoever finds a backup must not be able to sign in with it."""
    token = store.sessions.create(store.people.add(SHOP, "Ada", "technician"))

    with store.database.reading() as connection:
        kept = connection.execute(text("SELECT token FROM sessions")).scalar_one()

    assert kept != token
    assert len(kept) == 64
