"""A browser without scripts: reads forms as they stand on a page, and sends them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlencode

from api.store.events import Body
from tests.api.web.shop import Client, Shop, event

__all__ = ["Bay", "Form", "forms_of", "seen"]

Pairs = list[tuple[str, str]]


@dataclass
class Form:
    """A form as a browser sees it: what it would send if nothing was touched."""

    method: str
    action: str
    fields: Pairs = field(default_factory=list)
    buttons: Pairs = field(default_factory=list)
    names: set[str] = field(default_factory=set)  # of every control, sent or not

    def value(self, name: str) -> str:
        """Return what a field holds."""
        return dict(self.fields).get(name, "")


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.area = self.select = ""
        self.text = ""
        self.options: list[tuple[str, bool]] = []
        self.open = False

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        told = {key: value or "" for key, value in attributes}
        if tag == "form":
            self.forms.append(Form(told.get("method", "get"), told.get("action", "")))
            self.open = True
        if not self.open:
            return
        form, name = self.forms[-1], told.get("name", "")
        if name:
            form.names.add(name)
        if tag == "input" and name:
            kind = told.get("type", "text")
            if kind not in ("radio", "checkbox", "file") or "checked" in told:
                form.fields.append((name, told.get("value", "on")))
        elif tag == "button" and name:
            form.buttons.append((name, told.get("value", "")))
        elif tag == "textarea":
            self.area, self.text = name, ""
        elif tag == "select":
            self.select, self.options = name, []
        elif tag == "option":
            self.options.append((told.get("value", ""), "selected" in told))

    def handle_data(self, data: str) -> None:
        if self.area:
            self.text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.open = False
        elif tag == "textarea" and self.area:
            self.forms[-1].fields.append((self.area, self.text))
            self.area = ""
        elif tag == "select" and self.select:
            picked = [value for value, chosen in self.options if chosen]
            first = [value for value, _chosen in self.options[:1]]
            for value in picked or first:
                self.forms[-1].fields.append((self.select, value))
            self.select = ""


def forms_of(page: str) -> list[Form]:
    """Return the forms of a page."""
    reader = _Reader()
    reader.feed(page)
    return reader.forms


@dataclass
class Bay:
    """Somebody in the bay, with a browser without scripts."""

    shop: Shop
    client: Client

    def as_role(self, role: str) -> Bay:
        """Return somebody else in the same shop."""
        return Bay(self.shop, self.shop.as_role(role))

    def page(self, path: str) -> str:
        """Return a page."""
        answer = self.client.get(path)
        assert answer.status_code == 200, answer.text
        text: str = answer.text
        return text

    def form(self, path: str, **holding: str) -> Form:
        """Return the form of a page that holds these values."""
        found = [
            form
            for form in forms_of(self.page(path))
            if all((name, value) in form.fields for name, value in holding.items())
        ]
        assert found, f"no form with {holding} on {path}"
        return found[0]

    def send(self, form: Form, *pressed: tuple[str, str], **filled: Any) -> Any:
        """Send a form with a button pressed and fields filled in; return the answer."""
        rows = [(name, value) for name, value in form.fields if name not in filled]
        for name, value in filled.items():
            rows += [(name, one) for one in ([value] if isinstance(value, str) else value)]
        return self.post(form.action, [*rows, *pressed])

    def post(self, path: str, rows: Iterable[tuple[str, str]]) -> Any:
        """Send fields as a browser does."""
        headers = {"content-type": "application/x-www-form-urlencoded"}
        return self.client.send("POST", path, urlencode(list(rows)), headers=headers)

    def job(self, *bodies: dict[str, Any], **changes: Any) -> str:
        """Open a job and write events into it; return its id."""
        job = self.client.new_job(**changes)
        if bodies:
            sent = [event(body) for body in bodies]
            answer = self.client.post(f"/api/jobs/{job}/events", sent)
            assert answer.status_code < 300, answer.text
        return job

    def hum(self, *more: dict[str, Any]) -> str:
        """Open a job with one finding."""
        return self.job(seen("sy-hum-speed"), *more)

    def bodies(self, job: str) -> list[Body]:
        """Return what stands in a job, taken back or not, without what the program wrote."""
        state = self.shop.store.jobs.state(self.shop.settings.shop, job)
        return [
            row.recorded.body
            for row in state.history
            if not row.taken_back and row.recorded.body.kind not in ("gate-opened", "taken-back")
        ]

    def verdicts(self, job: str) -> set[tuple[str, str, str, str]]:
        """Return the verdicts that stand, as (check, thing, where, answer)."""
        case = self.shop.store.jobs.state(self.shop.settings.shop, job).case
        return {
            (one.check, one.cause or "", one.at or one.place or "", one.verdict)
            for one in case.verdicts
        }


def seen(finding: str, state: str = "present", **more: str) -> dict[str, Any]:
    """Return the body of a finding."""
    return {"kind": "finding", "finding": {"id": finding, "state": state, **more}}
