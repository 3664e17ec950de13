"""The people of the shop."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Request
from pydantic import BaseModel
from starlette.responses import Response

from api.accounts.people import (
    NewPerson,
    PersonChange,
    add_person,
    change_person,
    find_person,
)
from api.problems import Problem
from api.routes.common import (
    PersonDep,
    StoreDep,
    body_of,
    etag_of,
    json_answer,
    need_match,
    not_changed,
    takes,
)
from api.store.people import Person

__all__ = ["router"]

router = APIRouter(prefix="/api/people", tags=["people"])


class PersonDocument(BaseModel):
    """Somebody who works here."""

    id: str
    name: str
    role: str
    active: bool


class PeopleList(BaseModel):
    """Everybody of the shop, by name."""

    people: list[PersonDocument]


takes("POST", "/api/people", NewPerson)
takes("PATCH", "/api/people/{person}", PersonChange)
_Id = Annotated[str, Path(max_length=64, description="id of the person")]
_CHANGED: dict[int | str, dict[str, Any]] = {
    409: {"model": Problem, "description": "the shop would be left without an owner"},
    412: {"model": Problem, "description": "changed since"},
    428: {"model": Problem, "description": "no version was named"},
}


@router.get("", response_model=PeopleList)
def everybody(store: StoreDep, person: PersonDep) -> Response:
    """List the people of the shop."""
    people = [_document(one) for one in store.people.list(person.shop, active_only=False)]
    return json_answer(PeopleList(people=people))


@router.post(
    "",
    status_code=201,
    response_model=PersonDocument,
    responses={409: {"model": Problem, "description": "the name is taken"}},
)
def add(
    store: StoreDep,
    person: PersonDep,
    new: Annotated[NewPerson, Depends(body_of("POST", "/api/people"))],
) -> Response:
    """Add somebody. A password signs in anywhere, a PIN on the shop's own tablets only."""
    made = add_person(store, person.shop, new)
    where = {"location": f"/api/people/{made.id}"}
    return json_answer(_document(made), status=201, etag=_etag(made), headers=where)


@router.get("/{person}", response_model=PersonDocument)
def one(request: Request, store: StoreDep, who: PersonDep, person: _Id) -> Response:
    """Return one person."""
    found = find_person(store, who.shop, person)
    return not_changed(request, _etag(found)) or json_answer(_document(found), etag=_etag(found))


@router.patch("/{person}", response_model=PersonDocument, responses=_CHANGED)
def change(
    request: Request,
    store: StoreDep,
    who: PersonDep,
    person: _Id,
    asked: Annotated[PersonChange, Depends(body_of("PATCH", "/api/people/{person}"))],
) -> Response:
    """Change somebody's role, password or PIN, or let them work here no more."""
    found = find_person(store, who.shop, person)
    need_match(request, _etag(found), always=True)
    changed = change_person(store, found, asked)
    return json_answer(_document(changed), etag=_etag(changed))


def _document(person: Person) -> PersonDocument:
    return PersonDocument(
        id=str(person.id), name=person.name, role=person.role, active=person.active
    )


def _etag(person: Person) -> str:
    """Return the version of a person: role and whether they work here; a secret has none."""
    return etag_of(f"{person.role}-{int(person.active)}")
