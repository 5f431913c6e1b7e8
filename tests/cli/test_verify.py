"""`dryfit verify` at the terminal: its statuses, its words and its one JSON document."""

import sqlite3

import pytest


@pytest.fixture
def loaded(dryfit, log, good_row, folder):
    """The small shop with twelve readings, and its store's file."""
    assert dryfit("load", log(*(good_row(n) for n in range(12)))).status == 0
    return folder / "readings.db"


def edit(path, *statements):
    """Change a store's file behind its back."""
    bare = sqlite3.connect(path)
    for statement in ("DROP TRIGGER readings_no_update", "DROP TRIGGER readings_no_delete", *statements):
        bare.execute(statement)
    bare.commit()
    bare.close()


def test_a_whole_record(dryfit, loaded):
    """Exit 0, the count, and the head to be kept."""
    found = dryfit("verify", "--json")
    assert found.status == 0
    assert (found.json["whole"], found.json["rows"], found.json["faults"]) == (True, 12, [])
    head = found.json["head"]
    said = dryfit("verify", "--head", head)
    assert said.status == 0
    counts = "12 readings, 0 events, 1 builds, 1 plans"
    assert said.out == f"Whole: {counts}, each as it was stored. Head of the record: {head}\n"
    assert dryfit("verify", "--quiet").out == ""


def test_a_changed_reading_is_named(dryfit, loaded):
    """Exit 1, and the row by its number and its own names."""
    edit(loaded, "UPDATE readings SET millionths = millionths + 50000 WHERE sequence = 7")
    found = dryfit("verify")
    assert found.status == 1
    line = "NOT WHOLE: reading 7 (PG-01 tail-block thickness top-left): was changed after it was stored"
    assert line in found.out.splitlines()
    assert dryfit("verify", "--json").json["faults"][0]["sequence"] == 7


def test_a_missing_reading_is_named(dryfit, loaded):
    """The gap is named by the row after it."""
    edit(loaded, "DELETE FROM readings WHERE sequence = 7")
    found = dryfit("verify")
    assert found.status == 1
    assert (
        "reading 8 (PG-01 tail-block thickness top-right): the reading before it, 7, is missing" in found.out
    )


def test_very_many_faults_are_counted(dryfit, loaded, log, good_row):
    """The first twenty are told, the others counted."""
    assert dryfit("load", log(*(good_row(n) for n in range(12, 50)))).status == 0
    edit(loaded, "UPDATE readings SET note = 'x'")
    found = dryfit("verify")
    assert found.status == 1
    assert found.out.count("NOT WHOLE") == 20
    assert "... and 30 more" in found.out


@pytest.mark.parametrize("head", ["7", "7:", "7:zz", ":" + "0" * 32, "x" * 40])
def test_a_head_that_is_none(refused, loaded, head):
    """One line, exit 2."""
    assert "is no head" in refused("verify", "--head", head)


def test_a_backup_says_its_head(dryfit, loaded, tmp_path):
    """The head of the chain is printed with the backup and kept in it."""
    made = dryfit("backup", tmp_path / "b.db", "--json").json
    assert made["head"] == dryfit("verify", "--json").json["head"]
