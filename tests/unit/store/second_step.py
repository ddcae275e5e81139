"""A second step of the tables, made up for tests: the log is made anew with a column more."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from soakbook.store import migrate

SECOND = "0002test"
_STEP = """
import sqlalchemy as sa
from alembic import op

revision = "{revision}"
down_revision = "{before}"


def upgrade():
    with op.batch_alter_table("log", recreate="always") as table:
        table.add_column(sa.Column("mood", sa.Text(), nullable=False, server_default="fine"))
    {then}
"""


def second_step(folder: Path, then: str = "pass") -> Path:
    """The steps there are and one more, in a folder."""
    steps = folder / "steps"
    shutil.copytree(migrate.MIGRATIONS, steps, ignore=shutil.ignore_patterns("__pycache__"))
    text = _STEP.format(revision=SECOND, before=migrate.REVISIONS[-1], then=then)
    (steps / "versions" / "0002_test.py").write_text(text)
    return steps


def use_second_step(patch: pytest.MonkeyPatch, folder: Path, then: str = "pass") -> None:
    """Let the store know it."""
    patch.setattr(migrate, "MIGRATIONS", second_step(folder, then))
    patch.setattr(migrate, "REVISIONS", (*migrate.REVISIONS, SECOND))
