"""Plans saved into a shop's folder."""

import datetime as dt

import pytest

from qa.errors import PlanError, ShopError
from qa.plans.edit import revised
from qa.plans.files import (
    add_plan,
    add_revision,
    judged_by,
    judged_since,
    left_behind,
    plan_path,
    save_plan,
)
from qa.shop import load_shop
from qa.starter import starter_plan
from qa.store.store import open_store


@pytest.fixture
def path(shop, plan):
    """The file of the small shop's plan."""
    return plan_path(shop, plan)


def text_of(path):
    """A file's text with its own ends of lines."""
    return path.read_bytes().decode()


def test_a_saved_plan_is_there_whole_with_the_same_rights(path, plan):
    """And nothing is left over beside it."""
    path.chmod(0o640)
    save_plan(path, plan.text.replace("18.0", "18.5"), plan.digest)
    assert text_of(path) == plan.text.replace("18.0", "18.5")
    assert path.stat().st_mode & 0o777 == 0o640
    assert [item.name for item in path.parent.iterdir()] == [path.name]


def test_a_stale_edit_is_refused_and_changes_nothing(path, plan):
    """Someone changed the file since; their text stays."""
    path.write_text(plan.text + "# a note\n")
    with pytest.raises(ShopError, match="changed by someone else"):
        save_plan(path, plan.text.replace("18.0", "18.5"), plan.digest)
    assert text_of(path).endswith("# a note\n")
    path.unlink()
    with pytest.raises(ShopError, match="nothing was saved"):
        save_plan(path, plan.text, plan.digest)


def test_what_is_no_plan_is_not_saved(path, plan):
    """The file stays as it was."""
    with pytest.raises(PlanError):
        save_plan(path, "model = ", plan.digest)
    assert text_of(path) == plan.text


def test_a_revision_stands_beside_the_plan_and_judges_later_builds(shop, plan, reading):
    """Builds begun before the day keep the old one."""
    day = dt.date(2026, 3, 1)
    with open_store(shop.store_url) as store:
        store.append(reading(0, 18.0, build="PG-01", taken_at="2026-02-01T09:00:00.000000Z"), plan)
        store.append(reading(0, 18.0, build="PG-02", taken_at="2026-03-01T09:00:00.000000Z"), plan)
        assert judged_since(shop, store, plan, day) == ["PG-02"]
        made = add_revision(shop, revised(plan.text, "x.toml", day))
        later = load_shop(shop.folder)
        old, new = later.plans[plan.model]
        assert (old.digest, new.name) == (plan.digest, made.stem)
        assert judged_by(later, store, old) == ["PG-01"]
        assert judged_by(later, store, new) == ["PG-02"]


def test_two_revisions_from_the_same_day_are_refused(shop, plan):
    """The later of them would never hold."""
    text = revised(plan.text, "x.toml", dt.date(2026, 3, 1))
    add_revision(shop, text)
    with pytest.raises(ShopError, match="another day"):
        add_revision(load_shop(shop.folder), text)
    with pytest.raises(ShopError, match="there already"):
        add_revision(shop, text)
    with pytest.raises(ShopError, match="needs a day"):
        add_revision(shop, plan.text)


def test_a_plan_is_not_saved_as_the_same_revision_as_another(shop, plan, path):
    """The whole shop could not be read then; the problem is at the day."""
    add_revision(shop, revised(plan.text, "x.toml", dt.date(2026, 3, 1)))
    text = revised(plan.text, path.name, dt.date(2026, 3, 1))
    with pytest.raises(PlanError, match="choose another day") as told:
        save_plan(path, text, plan.digest)
    assert told.value.problems[0].key == "since"
    assert text_of(path) == plan.text


def test_a_model_with_builds_keeps_its_name(shop, plan, reading):
    """Its builds would be left without a plan."""
    renamed = plan.text.replace(plan.model, "lute")
    with open_store(shop.store_url) as store:
        left_behind(store, plan, renamed)
        store.append(reading(0, 18.0, build="PG-01"), plan)
        left_behind(store, plan, plan.text)
        with pytest.raises(ShopError, match="PG-01"):
            left_behind(store, plan, renamed)


def test_a_new_model_starts_from_a_starter_plan(shop, plan):
    """With its comments, under its own name in any script; a model that is there is not written over."""
    made = add_plan(shop, starter_plan("lap-dulcimer"), " Zither Ö 琴 ")
    assert made.name == "zither-ö-琴.toml"
    assert "Zither Ö 琴" in load_shop(shop.folder).plans
    assert made.read_text().splitlines()[0] == starter_plan("lap-dulcimer").splitlines()[0]
    for name, why in ((plan.model, "already"), (" ", "Name the model"), ("zither Ö 琴", "there already")):
        with pytest.raises(ShopError, match=why):
            add_plan(shop, starter_plan("lap-dulcimer"), name)
    with pytest.raises(ShopError, match="lap-dulcimer"):
        starter_plan("lap-dulcimar")
