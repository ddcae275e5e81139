"""Any log the store can keep comes back from its CSV."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from soakbook.garden.log import KINDS
from soakbook.garden.words import plain
from soakbook.store import Entry, NewEntry, entries_from_rows, log_csv, rows_from_csv
from soakbook.store.log import _formed

lines = st.text(max_size=60).filter(str.isprintable)
names = st.text(min_size=1, max_size=30).filter(lambda text: text.isprintable() and bool(plain(text)))
ids = st.text(st.sampled_from("abcXYZ019_-"), min_size=1, max_size=64)


@st.composite
def logs(draw: st.DrawFn) -> tuple[dict[str, object], list[NewEntry]]:
    called = draw(st.lists(names, max_size=4, unique_by=plain))
    places = [{"id": f"{n:08x}", "name": name} for n, name in enumerate(called)]
    entry = st.builds(
        NewEntry,
        ids,
        st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1)).map(lambda at: at.isoformat("T", "minutes")),
        st.sampled_from(KINDS),
        st.sampled_from(["", *(place["id"] for place in places)]),
        lines,
        lines,
    )
    return {"places": places}, draw(st.lists(entry, max_size=6, unique_by=lambda e: e.id))


@given(logs())
def test_a_log_comes_back_from_its_csv(case: tuple[dict[str, object], list[NewEntry]]) -> None:
    document, new = case
    kept = [_formed(entry) for entry in new]  # as the store keeps them: without blanks at the ends
    entries = [
        Entry(**vars(entry), by="kim", made_utc=datetime(2026, 1, 1, tzinfo=UTC), removed=False, edits=0, photos=())
        for entry in kept
    ]
    text = log_csv(entries, document)
    assert entries_from_rows(rows_from_csv(text), document) == kept
    assert log_csv([replace(entry, by="lee") for entry in entries], document) == text
