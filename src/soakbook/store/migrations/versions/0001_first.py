"""The first tables, and the owner."""

from __future__ import annotations

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "gardens",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("log_version", sa.Integer(), nullable=False),
        sa.Column("made_utc", sa.Text(), nullable=False),
        sa.Column("removed_utc", sa.Text(), nullable=True),
        sa.Column("removed_by", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_gardens")),
    )
    op.create_table(
        "people",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("prefs", sa.Text(), nullable=False),
        sa.Column("made_utc", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_people")),
    )
    op.create_table(
        "settings",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_settings")),
    )
    op.create_table(
        "garden_versions",
        sa.Column("garden", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("at_utc", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["garden"], ["gardens.key"], name=op.f("fk_garden_versions_garden")),
        sa.PrimaryKeyConstraint("garden", "version", name=op.f("pk_garden_versions")),
    )
    op.create_table(
        "links",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("token_sha256", sa.Text(), nullable=False),
        sa.Column("garden", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("on", sa.Text(), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("made_utc", sa.Text(), nullable=False),
        sa.Column("ended_utc", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["garden"], ["gardens.key"], name=op.f("fk_links_garden")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_links")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_links_token_sha256")),
    )
    with op.batch_alter_table("links", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_links_garden"), ["garden"], unique=False)

    op.create_table(
        "log",
        sa.Column("garden", sa.Text(), nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("place_id", sa.Text(), nullable=False),
        sa.Column("amount", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("made_utc", sa.Text(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("edits", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["garden"], ["gardens.key"], name=op.f("fk_log_garden")),
        sa.PrimaryKeyConstraint("garden", "id", name=op.f("pk_log")),
    )
    op.create_table(
        "photos",
        sa.Column("garden", sa.Text(), nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["garden"], ["gardens.key"], name=op.f("fk_photos_garden")),
        sa.PrimaryKeyConstraint("garden", "id", name=op.f("pk_photos")),
    )
    op.create_table(
        "place_names",
        sa.Column("garden", sa.Text(), nullable=False),
        sa.Column("place_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["garden"], ["gardens.key"], name=op.f("fk_place_names_garden")),
        sa.PrimaryKeyConstraint("garden", "place_id", name=op.f("pk_place_names")),
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("token_sha256", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Text(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("made_utc", sa.Text(), nullable=False),
        sa.Column("seen_utc", sa.Text(), nullable=False),
        sa.Column("ended_utc", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_sessions_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_sessions_token_sha256")),
    )
    op.create_table(
        "entry_photos",
        sa.Column("garden", sa.Text(), nullable=False),
        sa.Column("entry_id", sa.Text(), nullable=False),
        sa.Column("photo_id", sa.Text(), nullable=False),
        sa.Column("made_utc", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["garden", "entry_id"], ["log.garden", "log.id"], name=op.f("fk_entry_photos_garden_entry_id")
        ),
        sa.ForeignKeyConstraint(
            ["garden", "photo_id"], ["photos.garden", "photos.id"], name=op.f("fk_entry_photos_garden_photo_id")
        ),
        sa.PrimaryKeyConstraint("garden", "entry_id", "photo_id", name=op.f("pk_entry_photos")),
    )
    op.create_table(
        "log_past",
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("garden", sa.Text(), nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("place_id", sa.Text(), nullable=False),
        sa.Column("amount", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("removed", sa.Boolean(), nullable=False),
        sa.Column("changed_utc", sa.Text(), nullable=False),
        sa.Column("changed_by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["garden", "id"], ["log.garden", "log.id"], name=op.f("fk_log_past_garden_id")),
        sa.PrimaryKeyConstraint("n", name=op.f("pk_log_past")),
    )
    with op.batch_alter_table("log_past", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_log_past_garden_id"), ["garden", "id"], unique=False)

    people = sa.table("people", *(sa.column(name, sa.Text) for name in ("id", "name", "prefs", "made_utc")))
    made_utc = datetime.now(tz=UTC).isoformat(timespec="microseconds")
    op.bulk_insert(people, [{"id": "owner", "name": "", "prefs": "{}", "made_utc": made_utc}])
