"""The tables of the database. Times are ISO text in UTC; a change here needs a new file in ``migrations/versions``."""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

gardens = Table(
    "gardens",
    metadata,
    Column("key", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("log_version", Integer, nullable=False),
    Column("made_utc", Text, nullable=False),
    Column("removed_utc", Text),
    Column("removed_by", Text),
)

garden_versions = Table(
    "garden_versions",
    metadata,
    Column("garden", Text, ForeignKey("gardens.key"), primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("body", LargeBinary, nullable=False),  # JSON, compressed
    Column("at_utc", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("what", Text, nullable=False),
)

place_names = Table(
    "place_names",
    metadata,
    Column("garden", Text, ForeignKey("gardens.key"), primary_key=True),
    Column("place_id", Text, primary_key=True),
    Column("name", Text, nullable=False),
)

log = Table(
    "log",
    metadata,
    Column("garden", Text, ForeignKey("gardens.key"), primary_key=True),
    Column("id", Text, primary_key=True),
    Column("at", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("place_id", Text, nullable=False),
    Column("amount", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("made_utc", Text, nullable=False),
    Column("removed", Boolean, nullable=False),
    Column("edits", Integer, nullable=False),
)

log_past = Table(
    "log_past",
    metadata,
    Column("n", Integer, primary_key=True),
    Column("garden", Text, nullable=False),
    Column("id", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("place_id", Text, nullable=False),
    Column("amount", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("removed", Boolean, nullable=False),
    Column("changed_utc", Text, nullable=False),
    Column("changed_by", Text, nullable=False),
    ForeignKeyConstraint(["garden", "id"], ["log.garden", "log.id"]),
    Index(None, "garden", "id"),
)

photos = Table(
    "photos",
    metadata,
    Column("garden", Text, ForeignKey("gardens.key"), primary_key=True),
    Column("id", Text, primary_key=True),
    Column("media_type", Text, nullable=False),
    Column("data", LargeBinary, nullable=False),
)

entry_photos = Table(
    "entry_photos",
    metadata,
    Column("garden", Text, primary_key=True),
    Column("entry_id", Text, primary_key=True),
    Column("photo_id", Text, primary_key=True),
    Column("made_utc", Text, nullable=False),
    Column("by", Text, nullable=False),
    ForeignKeyConstraint(["garden", "entry_id"], ["log.garden", "log.id"]),
    ForeignKeyConstraint(["garden", "photo_id"], ["photos.garden", "photos.id"]),
)

people = Table(
    "people",
    metadata,
    Column("id", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("prefs", Text, nullable=False),  # JSON
    Column("made_utc", Text, nullable=False),
)

sessions = Table(
    "sessions",
    metadata,
    Column("id", Text, primary_key=True),
    Column("token_sha256", Text, nullable=False, unique=True),
    Column("person_id", Text, ForeignKey("people.id"), nullable=False),
    Column("device", Text, nullable=False),
    Column("made_utc", Text, nullable=False),
    Column("seen_utc", Text, nullable=False),
    Column("ended_utc", Text),
)

links = Table(
    "links",
    metadata,
    Column("id", Text, primary_key=True),
    Column("token_sha256", Text, nullable=False, unique=True),
    Column("garden", Text, ForeignKey("gardens.key"), nullable=False),
    Column("kind", Text, nullable=False),
    Column("on", Text),  # a local date
    Column("name", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("made_utc", Text, nullable=False),
    Column("ended_utc", Text),
    Index(None, "garden"),
)

settings = Table(
    "settings",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)
