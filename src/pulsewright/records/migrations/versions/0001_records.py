"""Jobs, setups, pulls, answers and work."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

MOMENT = sa.String(32)


def _key(table: str) -> list:
    return [sa.Column("id", sa.Integer, nullable=False), sa.PrimaryKeyConstraint("id", name=f"pk_{table}")]


def _job(table: str) -> list:
    foreign = sa.ForeignKeyConstraint(["job"], ["jobs.id"], name=f"fk_{table}_job", ondelete="CASCADE")
    return [sa.Column("job", sa.Integer, nullable=False), foreign]


def upgrade() -> None:
    op.create_table(
        "jobs",
        *_key("jobs"),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("machine", sa.Text, nullable=False),
        sa.Column("complaint", sa.Text, nullable=False),
        sa.Column("settings", sa.JSON, nullable=False),
        sa.Column("copied_from", sa.Integer),
        sa.Column("made", MOMENT, nullable=False),
        sa.Column("changed", MOMENT, nullable=False),
        sa.Column("binned", MOMENT),
        sa.ForeignKeyConstraint(["copied_from"], ["jobs.id"], name="fk_jobs_copied_from", ondelete="SET NULL"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "setups",
        *_key("setups"),
        *_job("setups"),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("based_on", sa.Integer),
        sa.ForeignKeyConstraint(["based_on"], ["setups.id"], name="fk_setups_based_on"),
        sa.UniqueConstraint("job", "name", name="uq_setups_job_name"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_setups_job", "setups", ["job"])
    op.create_table(
        "setup_states",
        *_key("setup_states"),
        sa.Column("setup", sa.Integer, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("sheet_name", sa.Text),
        sa.Column("sheet_text", sa.Text),
        sa.Column("changes", sa.JSON, nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("made", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(["setup"], ["setups.id"], name="fk_setup_states_setup", ondelete="CASCADE"),
        sa.UniqueConstraint("setup", "version", name="uq_setup_states_setup_version"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "raw_files",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_raw_files"),
    )
    op.create_table(
        "pull_files",
        *_key("pull_files"),
        *_job("pull_files"),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("setup", sa.Integer, nullable=False),
        sa.Column("file_name", sa.Text, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("in_file", sa.Integer, nullable=False),
        sa.Column("recipe", sa.JSON, nullable=False),
        sa.Column("settings", sa.JSON, nullable=False),
        sa.Column("made", MOMENT, nullable=False),
        sa.Column("removed", MOMENT),
        sa.ForeignKeyConstraint(["setup"], ["setups.id"], name="fk_pull_files_setup"),
        sa.ForeignKeyConstraint(["sha256"], ["raw_files.sha256"], name="fk_pull_files_sha256"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_pull_files_job", "pull_files", ["job"])
    op.create_index("ix_pull_files_setup", "pull_files", ["setup"])
    op.create_index(
        "uq_pull_files_once",
        "pull_files",
        ["job", "sha256", "in_file"],
        unique=True,
        sqlite_where=sa.text("removed IS NULL"),
        postgresql_where=sa.text("removed IS NULL"),
    )
    op.create_table(
        "side_files",
        *_job("side_files"),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("job", "name", name="pk_side_files"),
        sa.ForeignKeyConstraint(["sha256"], ["raw_files.sha256"], name="fk_side_files_sha256"),
    )
    op.create_table(
        "mappings",
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("made", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_mappings"),
    )
    op.create_table(
        "answers",
        *_key("answers"),
        *_job("answers"),
        sa.Column("kind", sa.String(32), nullable=False),
        sa.Column("data", sa.JSON, nullable=False),
        sa.Column("code", sa.String(100), nullable=False),
        sa.Column("sheet_hash", sa.String(64), nullable=False),
        sa.Column("data_hash", sa.String(64), nullable=False),
        sa.Column("seed", sa.Integer),
        sa.Column("made", MOMENT, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_answers_job", "answers", ["job"])
    op.create_table(
        "works",
        *_key("works"),
        *_job("works"),
        sa.Column("kind", sa.String(32), nullable=False),
        sa.Column("arguments", sa.JSON, nullable=False),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("progress", sa.Float, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("stop_asked", sa.Boolean, nullable=False),
        sa.Column("owner", sa.Text),
        sa.Column("tries", sa.Integer, nullable=False),
        sa.Column("made", MOMENT, nullable=False),
        sa.Column("seen", MOMENT),
        sa.Column("ended", MOMENT),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_works_job", "works", ["job"])
    op.create_index("ix_works_state", "works", ["state"])
