"""Whether it runs, whether it can work, what it counts; the doctor says the same."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from api.command import run
from api.store.engine import open_store
from tests.api.web.shop import Shop, event, open_shop


def test_a_shop_in_order_is_ready(shop: Shop) -> None:
    """A line for each thing, each with a sentence."""
    answer = shop.anybody().get("/readyz")
    told = answer.json()

    assert answer.status_code == 200
    assert told["ready"]
    assert {row["check"] for row in told["checks"]} >= {"records", "writing", "room", "knowledge"}
    assert all(row["ok"] and row["says"] for row in told["checks"])


def test_a_schema_that_is_behind_is_not_ready(shop: Shop) -> None:
    """503, with the sentence that says what to do; the process itself is alive."""
    with shop.store.database.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = 'before-all'")
    client = shop.anybody()

    answer = client.get("/readyz")

    bad = [row for row in answer.json()["checks"] if not row["ok"]]
    assert answer.status_code == 503
    assert [row["check"] for row in bad] == ["records"]
    assert client.get("/livez").json() == {"alive": True}


def test_a_missing_or_old_backup_is_told(tmp_path: Path) -> None:
    """The line says how old, and what makes a new one."""
    with open_shop(tmp_path) as shop:
        shop.settings.backup_days = 7
        client = shop.anybody()
        none = client.get("/readyz").json()["checks"][-1]
        (tmp_path / "backups").mkdir()
        made = tmp_path / "backups" / "a.sqlite"
        made.write_bytes(b"")
        new = client.get("/readyz").json()["checks"][-1]
        import os
        import time

        os.utime(made, (time.time() - 9 * 86400,) * 2)
        old = client.get("/readyz").json()["checks"][-1]

    assert (none["ok"], new["ok"], old["ok"]) == (False, True, False)
    assert "there is no backup yet" in none["says"]
    assert "9.0 days old, more than 7" in old["says"]


def test_measures_are_for_this_machine_or_the_token(tmp_path: Path) -> None:
    """Anybody else on the network learns nothing."""
    with open_shop(tmp_path, more=lambda: {"metrics_token": "a long token"}) as shop:
        here, there = shop.anybody(), shop.anybody(client=("192.0.2.7", 1))
        technician = shop.as_role("technician")
        job = technician.new_job(complaint="my secret complaint")
        technician.post(f"/api/jobs/{job}/events", [event({"kind": "note", "text": "x"})])
        told = here.get("/metrics").text

        assert 'drypark_events_written_total{kind="note"} 1.0' in told
        assert 'drypark_events_written_total{kind="written-up"} 1.0' in told
        assert 'route="/api/jobs/{job}/events"' in told
        assert "secret" not in told
        assert job not in told
        assert there.get("/metrics").status_code == 403
        wrong = there.get("/metrics", headers={"authorization": "Bearer a wrong token"})
        right = there.get("/metrics", headers={"authorization": "Bearer a long token"})
        assert (wrong.status_code, right.status_code) == (403, 200)


def test_without_a_token_nothing_opens_the_measures_elsewhere(shop: Shop) -> None:
    """An empty token is no token."""
    there = shop.anybody(client=("192.0.2.7", 1))

    assert there.get("/metrics", headers={"authorization": "Bearer "}).status_code == 403


def test_the_doctor_says_what_readyz_says(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same lines at a terminal; 1 when one of them is wrong."""
    monkeypatch.setenv("DRYPARK_DATA", str(tmp_path))
    open_store(tmp_path / "drypark.sqlite").close()

    late = run(["doctor", "--json"])
    lines = json.loads(capsys.readouterr().out)
    monkeypatch.setenv("DRYPARK_BACKUP_DAYS", "0")
    fine = run(["doctor"])

    assert (late, fine) == (1, 0)
    assert [row["check"] for row in lines if not row["ok"]] == ["backup"]
    assert "right records: " in capsys.readouterr().out


def test_the_doctor_makes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A look must not make the records that it looks for."""
    monkeypatch.setenv("DRYPARK_DATA", str(tmp_path / "nothing"))

    assert run(["doctor"]) == 1
    assert "WRONG records: " in capsys.readouterr().out
    assert list(tmp_path.iterdir()) == []
