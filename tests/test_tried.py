"""What was tried on purpose, and the tests that really do it.

The one idea: a list of promises is kept by names of tests; a partner asks whether each is still
there, so that none can be renamed away.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent

TRIED: dict[str, tuple[str, ...]] = {
    "a photo of 20 MB": (
        "tests/api/web/test_edge.py::test_a_large_body_is_refused_in_one_sentence",
    ),
    "a script in every text field": (
        "tests/api/pages/test_safe_pages.py::test_what_was_typed_is_shown_and_never_run",
        "tests/api/pages/test_safe_pages.py::test_every_field_that_takes_words_was_given_a_script",
        "tests/api/web/test_edge.py::test_a_script_in_any_field_is_kept_as_it_is",
    ),
    "forged and replayed event ids": (
        "tests/api/web/test_jobs.py::test_an_id_with_another_body_is_refused",
        "tests/api/web/test_jobs.py::test_an_id_of_another_job_is_refused",
        "tests/api/web/test_jobs.py::test_the_same_event_sent_twice_is_one_event",
    ),
    "another shop's job": (
        "tests/api/web/test_jobs.py::test_another_shops_job_does_not_exist",
        "tests/api/pages/test_safe_pages.py::test_another_shops_job_does_not_exist",
    ),
    "cells that begin with =": ("tests/api/store/test_export.py::test_no_cell_is_a_formula",),
    "a broken database file": (
        "tests/api/store/test_schema.py::test_a_damaged_database_is_left_as_it_is",
        "tests/api/store/test_schema.py::test_a_file_that_is_no_database_is_left_as_it_is",
        "tests/api/web/test_serve.py::test_a_broken_database_file_is_left_alone",
    ),
    "a full disk": (
        "tests/api/store/test_trouble.py::test_a_full_database_refuses_and_keeps",
        "tests/api/store/test_trouble.py::test_a_disk_that_takes_no_more_loses_nothing",
        "tests/api/web/test_edge.py::test_trouble_with_the_records_is_told_in_its_own_words",
    ),
    "a schema that is behind": (
        "tests/api/store/test_schema.py::test_records_of_an_older_shape_are_not_touched",
    ),
    "kill -9 in the middle of 1,000 writes": (
        "tests/api/store/test_processes.py::test_kill_9_loses_nothing_that_was_acknowledged",
    ),
    "an online backup, verified": (
        "tests/api/store/test_backup.py::test_a_backup_is_of_one_moment_while_others_write",
    ),
    "restore into a new file": (
        "tests/api/store/test_backup.py::test_live_records_are_not_restored_over",
        "tests/api/store/test_backup.py::test_nothing_is_restored_over_what_is_there",
    ),
    "a copy to PostgreSQL with counts and hashes": (
        "tests/api/store/test_backup.py::test_a_shop_moves_to_a_server_and_back",
        "tests/api/store/test_backup.py::test_a_copy_that_arrives_otherwise_is_not_kept",
    ),
    "a dead network": (
        "tests/browser/test_offline.py::test_taps_and_typed_answers_survive_a_dead_network_and_a_reload",
        "tests/browser/test_kept.py::test_half_a_note_survives_a_reload_without_network",
        "tests/browser/test_kept.py::test_photos_taken_without_network_are_sent_in_order_with_the_answers",
    ),
    "a server that hangs": (
        "tests/browser/test_kept.py::test_a_server_that_hangs_does_not_keep_a_page_from_opening",
    ),
    "two people on one job at once": (
        "tests/api/web/test_jobs.py::test_two_people_at_once_lose_nothing",
        "tests/browser/test_whole_job.py::test_another_persons_answer_appears_and_takes_no_typed_word",
    ),
}
NAMED = sorted({name for names in TRIED.values() for name in names})


def test_the_list_is_as_long_as_it_was() -> None:
    """A list that got shorter would hide a promise."""
    assert len(TRIED) == 15
    assert all(TRIED.values())


@pytest.mark.parametrize("name", NAMED)
def test_a_test_that_is_named_is_there(name: str) -> None:
    """A test that was renamed away protects nothing."""
    path, _, function = name.partition("::")
    tree = ast.parse((TOP / path).read_text(encoding="utf-8"))

    assert function in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
