"""People, sessions, links, settings."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import date, timedelta

import pytest

from soakbook.errors import InputError
from soakbook.store import Store
from tests.unit.store.conftest import Clock


def test_there_is_always_an_owner(store: Store) -> None:
    (owner,) = store.people()
    assert (owner.id, owner.name, owner.prefs) == ("owner", "", {})
    assert store.person("owner") == owner
    assert store.person("nobody") is None


def test_people_come_by_name_after_the_owner(store: Store) -> None:
    lee, kim = store.add_person("Lee"), store.add_person(" kim ")
    assert store.people()[1:] == [kim, lee]
    assert store.rename_person("owner", "Zoe").name == "Zoe"
    assert store.people()[0].name == "Zoe"
    with pytest.raises(InputError):
        store.add_person("  ")


def test_preferences_are_kept_whole(store: Store) -> None:
    prefs = {"units": "US", "order": ["a", "b"], "big": True}
    assert store.set_prefs("owner", prefs).prefs == prefs
    assert store.set_prefs("owner", {"x": 1}).prefs == {"x": 1}
    for wrong, code in (({"x": {1}}, "prefs.form"), ({"x": "y" * 30_000}, "prefs.too_large")):
        with pytest.raises(InputError) as raised:
            store.set_prefs("owner", wrong)
        assert raised.value.code == code
    with pytest.raises(InputError) as raised:
        store.set_prefs("nobody", {})
    assert raised.value.code == "person.unknown"


def test_a_token_opens_its_session_and_is_not_kept(store: Store) -> None:
    token = store.open_session("owner", "phone")
    found = store.session(token)
    assert found is not None
    assert (found.person_id, found.device) == ("owner", "phone")
    assert store.session(token + "x") is None
    assert store.session("\ud800") is None
    with closing(sqlite3.connect(store.folder / "soakbook.db")) as raw:
        assert token not in "\n".join(raw.iterdump())


def test_a_session_ends_when_unused_for_90_days(store: Store, clock: Clock) -> None:
    token = store.open_session("owner", "phone")
    clock.now += timedelta(days=89)
    assert store.session(token) is not None
    clock.now += timedelta(days=89)
    assert store.session(token) is not None  # it was used in between
    clock.now += timedelta(days=91)
    assert store.sessions() == []
    assert store.session(token) is None


def test_use_is_noted_at_most_once_an_hour(store: Store, clock: Clock) -> None:
    token = store.open_session("owner", "phone")
    first = store.sessions()[0].seen_utc
    clock.now += timedelta(minutes=59)
    store.session(token)
    assert store.sessions()[0].seen_utc == first
    clock.now += timedelta(minutes=2)
    store.session(token)
    assert store.sessions()[0].seen_utc > first


def test_sessions_can_be_ended(store: Store) -> None:
    tokens = [store.open_session("owner", f"d{i}") for i in range(3)]
    found = [store.session(token) for token in tokens]
    assert all(found)
    store.end_session(found[0].id)
    assert [s.device for s in store.sessions()] == ["d2", "d1"]
    store.end_all_sessions(except_id=found[1].id)
    assert [s.device for s in store.sessions()] == ["d1"]
    store.end_all_sessions()
    assert [store.session(token) for token in tokens] == [None] * 3


def test_a_link_opens_one_thing_until_it_is_ended(store: Store, key: str) -> None:
    token = store.make_link(key, "round", date(2026, 6, 1), by="owner", name="Sam")
    other = store.make_link(key, "calendar")
    found = store.link(token)
    assert found is not None
    assert (found.key, found.kind, found.on, found.by, found.name) == (key, "round", date(2026, 6, 1), "owner", "Sam")
    assert [link.kind for link in store.links(key)] == ["calendar", "round"]
    store.end_link(found.id)
    assert store.link(token) is None
    assert [link.kind for link in store.links(key)] == ["calendar"]
    store.remove_garden(key, by="owner")
    assert store.link(other) is None


def test_a_link_of_no_known_kind_is_refused(store: Store, key: str) -> None:
    with pytest.raises(InputError) as raised:
        store.make_link(key, "everything")  # type: ignore[arg-type]
    assert raised.value.code == "link.kind"


def test_settings_are_kept_and_taken_away(store: Store) -> None:
    assert store.setting("phrase") is None
    store.set_setting("phrase", "a")
    store.set_setting("phrase", "b")
    assert store.setting("phrase") == "b"
    store.set_setting("phrase", None)
    assert store.setting("phrase") is None
