"""The log: an entry counts once, is never lost, and what it was before stays."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from soakbook.demo import FOLDER
from soakbook.errors import InputError
from soakbook.garden.file import check_raw
from soakbook.garden.log import LogRow, read_log
from soakbook.store import NewEntry, Store, as_file, entries_from_rows, gone_csv, log_csv, rows_from_csv
from tests.unit.store.conftest import Clock
from tests.unit.store.gardens import fine

WATER = NewEntry("a1", "2026-06-01T07:30", "water", "p1", "12 L", "leaves fine")


def version(store: Store, key: str) -> int:
    return store.garden(key).log_version


def test_an_entry_is_kept_as_it_was_written(store: Store, key: str, clock: Clock) -> None:
    entry, new = store.put(key, WATER, by="kim")
    assert new
    assert (entry.id, entry.at, entry.kind, entry.place_id) == ("a1", "2026-06-01T07:30", "water", "p1")
    assert (entry.amount, entry.text, entry.by) == ("12 L", "leaves fine", "kim")
    assert (entry.removed, entry.edits, entry.photos) == (False, 0, ())
    assert entry.made_utc.replace(microsecond=0) == clock.now.replace(microsecond=0)
    assert store.entry(key, "a1") == entry
    assert store.entries(key) == [entry]


def test_posted_twice_it_counts_once(store: Store, key: str) -> None:
    first, _ = store.put(key, WATER, by="kim")
    at = version(store, key)
    again, new = store.put(key, WATER, by="another")
    assert (again, new) == (first, False)
    assert version(store, key) == at


def test_another_entry_with_the_same_id_is_refused(store: Store, key: str) -> None:
    store.put(key, WATER)
    for name in ("at", "kind", "place_id", "amount", "text"):
        other = replace(WATER, **{name: "note" if name == "kind" else "2026-06-02T07:30"})
        with pytest.raises(InputError) as raised:
            store.put(key, other)
        assert (raised.value.code, raised.value.field) == ("log.id.twice", "id")
    assert len(store.entries(key)) == 1


def test_ids_count_within_a_garden(store: Store, key: str) -> None:
    other = store.add_garden({"garden": {"name": "Other"}}).key
    store.put(key, WATER)
    assert store.put(other, replace(WATER, amount="3 L"))[1]
    assert store.entry(key, "a1").amount == "12 L"


def test_an_edit_keeps_what_was(store: Store, key: str) -> None:
    store.put(key, WATER, by="kim")
    edited = store.edit(key, "a1", replace(WATER, amount="15 L"), by="lee")
    assert (edited.amount, edited.edits, edited.by) == ("15 L", 1, "kim")
    (was,) = store.past(key, "a1")
    assert (was.amount, was.by, was.removed) == ("12 L", "lee", False)
    store.edit(key, "a1", replace(WATER, amount="16 L"), by="lee")
    assert [p.amount for p in store.past(key, "a1")] == ["15 L", "12 L"]


def test_an_edit_to_the_same_is_no_edit(store: Store, key: str) -> None:
    store.put(key, WATER)
    at = version(store, key)
    assert store.edit(key, "a1", WATER).edits == 0
    assert (store.past(key, "a1"), version(store, key)) == ([], at)


def test_what_was_posted_first_may_come_again_after_an_edit(store: Store, key: str) -> None:
    store.put(key, WATER)
    store.edit(key, "a1", replace(WATER, amount="15 L"))
    entry, new = store.put(key, WATER)
    assert (entry.amount, new) == ("15 L", False)


def test_an_edit_keeps_the_id(store: Store, key: str) -> None:
    store.put(key, WATER)
    with pytest.raises(InputError) as raised:
        store.edit(key, "a1", replace(WATER, id="b2"))
    assert raised.value.code == "log.id"
    with pytest.raises(InputError) as raised:
        store.edit(key, "b2", replace(WATER, id="b2"))
    assert raised.value.code == "log.unknown"


def test_removed_and_restored_once_each(store: Store, key: str) -> None:
    store.put(key, WATER)
    at = version(store, key)
    assert store.remove(key, "a1").removed
    assert store.remove(key, "a1").removed
    assert version(store, key) == at + 1
    assert store.entries(key) == []
    assert [e.id for e in store.entries(key, removed=True)] == ["a1"]
    assert not store.restore(key, "a1").removed
    assert not store.restore(key, "a1").removed
    assert [e.id for e in store.entries(key)] == ["a1"]
    assert [p.removed for p in store.past(key, "a1")] == [True, False]


def test_a_removed_entry_stays_removed_when_posted_again(store: Store, key: str) -> None:
    store.put(key, WATER)
    store.remove(key, "a1")
    entry, new = store.put(key, WATER)
    assert (entry.removed, new) == (True, False)
    assert store.entries(key) == []
    with pytest.raises(InputError) as raised:
        store.edit(key, "a1", replace(WATER, amount="1 L"))
    assert raised.value.code == "log.removed"


def test_many_come_all_or_none(store: Store, key: str) -> None:
    store.put(key, WATER)
    at = version(store, key)
    good = [NewEntry(f"n{i}", "2026-06-02T07:30", "note", text="dry") for i in range(1200)]
    with pytest.raises(InputError):
        store.put_many(key, [*good, replace(WATER, amount="1 L")])
    assert (len(store.entries(key)), version(store, key)) == (1, at)
    done = store.put_many(key, [*good, WATER, good[0]])
    assert [new for _, new in done] == [True] * 1200 + [False, False]
    assert len(store.entries(key)) == 1201
    assert version(store, key) == at + 1
    assert store.put_many(key, []) == []
    with pytest.raises(InputError) as raised:
        store.put_many(key, [replace(WATER, id="z"), replace(WATER, id="z", text="other")])
    assert raised.value.code == "log.id.twice"


def test_entries_come_by_time_and_id(store: Store, key: str) -> None:
    times = {"c": "2026-06-01T08:00", "b": "2026-06-01T07:30", "a": "2026-06-01T08:00", "d": "2026-06-01 07:59"}
    store.put_many(key, [NewEntry(i, at, "note", text="x") for i, at in times.items()])
    assert [e.id for e in store.entries(key)] == ["b", "d", "a", "c"]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"id": ""}, "id"),
        ({"id": "a b"}, "id"),
        ({"id": "x" * 65}, "id"),
        ({"id": "a\n"}, "id"),
        ({"kind": "dance"}, "kind"),
        ({"at": ""}, "at"),
        ({"text": "x" * 2001}, "text"),
        ({"text": "two\nlines"}, "text"),
        ({"text": "\x00"}, "text"),
        ({"text": "\ud800"}, "text"),
        ({"amount": "x" * 2001}, "amount"),
        ({"place_id": "\u2028"}, "place_id"),
    ],
)
def test_the_form_is_checked(store: Store, key: str, change: dict[str, str], field: str) -> None:
    with pytest.raises(InputError) as raised:
        store.put(key, replace(WATER, **change))
    assert raised.value.field == field
    assert store.entries(key) == []


def test_a_reading_is_an_entry(store: Store, key: str) -> None:
    assert store.put(key, NewEntry("r", "2026-06-01T07:30", "reading", "p1", "moist at 25 cm"))[1]


# --- CSV -------------------------------------------------------------------------------------------------------------


def test_the_csv_is_the_logs_and_reads_back(store: Store, key: str) -> None:
    document = store.document(key)
    tomatoes = document["places"][0]["id"]
    store.put(key, NewEntry("a1", "2026-06-01T07:30", "water", tomatoes, "12 L", 'top dry, "fine"'))
    store.put(key, NewEntry("a2", "2026-06-01T07:40", "rain", "", "14 mm"))
    text = log_csv(store.entries(key), document)
    assert text == (
        "id,at,kind,place,amount,text\n"
        'a1,2026-06-01T07:30,water,Tomato bed,12 L,"top dry, ""fine"""\n'
        "a2,2026-06-01T07:40,rain,,14 mm,\n"
    )
    back = entries_from_rows(rows_from_csv("\ufeff" + text), document)
    assert [new for _, new in store.put_many(key, back)] == [False, False]


def test_the_demos_log_goes_in_and_out(store: Store) -> None:
    import tomllib

    raw = tomllib.loads((FOLDER / "garden.toml").read_text())
    key = store.add_garden(raw).key
    document = store.document(key)
    text = (FOLDER / "garden.log.csv").read_text()
    store.put_many(key, entries_from_rows(rows_from_csv(text), document))
    assert sorted(log_csv(store.entries(key), document).splitlines()) == sorted(text.splitlines())


def test_a_place_the_garden_does_not_have_is_named() -> None:
    with pytest.raises(InputError) as raised:
        entries_from_rows([LogRow("2026-06-01T07:30", "water", "Moon", "1 L", id="a")], {"places": []})
    assert (raised.value.code, raised.value.field) == ("log.place.unknown", "rows.1.place")


def test_entries_of_a_place_that_is_gone_stand_apart(store: Store, key: str, tmp_path: Any) -> None:
    from soakbook.advice.open import known_words

    beans = store.document(key)["places"][1]["id"]
    store.put(key, NewEntry("a1", "2026-06-01T07:30", "water", beans, "12 L"))
    store.put(key, NewEntry("a2", "2026-06-01T07:30", "note", text="warm"))
    store.change(key, lambda d: {**d, "places": d["places"][:1]}, check=fine)
    document, every = store.document(key), store.entries(key)
    (tmp_path / "g.log.csv").write_text(log_csv(every, document))
    garden = check_raw(as_file(document), known_words()).garden
    assert [e.id for e in read_log(tmp_path / "g.log.csv", garden)] == ["a2"]
    assert rows_from_csv(gone_csv(every, document, store.place_names(key)))[0].place == "Bean rows"


def test_many_are_removed_and_brought_back_all_or_none(store: Store, key: str) -> None:
    new = [NewEntry(f"r{n}", f"2026-06-0{n}T07:00", "note", "", "", "seen") for n in (1, 2, 3)]
    store.put_many(key, new)
    store.remove(key, "r2")
    with pytest.raises(InputError):
        store.remove_many(key, ["r1", "none"])
    assert [e.id for e in store.entries(key)] == ["r1", "r3"]
    version = store.garden(key).log_version
    assert [e.removed for e in store.remove_many(key, ["r1", "r2", "r3", "r1"], by="Ada")] == [True] * 3
    assert store.garden(key).log_version == version + 1
    assert [len(store.past(key, i)) for i in ("r1", "r2", "r3")] == [1, 1, 1]
    assert store.past(key, "r1")[0].by == "Ada"
    assert [e.id for e in store.restore_many(key, ["r1", "r2", "r3"])] == ["r1", "r2", "r3"]
    assert [(e.id, e.removed) for e in store.entries(key)] == [("r1", False), ("r2", False), ("r3", False)]
    assert store.restore_many(key, []) == []
