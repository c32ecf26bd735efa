"""Full-text search over jobs; those that are there become findable."""

import json

import sqlalchemy as sa
from alembic import op

from pulsewright.records.words import index_job

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

# Titles first, then what setups and pulls say, a row a text.
TEXTS = """
SELECT id AS job, title AS said FROM jobs UNION ALL SELECT id, machine FROM jobs UNION ALL
SELECT id, complaint FROM jobs UNION ALL SELECT job, name FROM setups UNION ALL
SELECT setups.job, setup_states.note FROM setup_states JOIN setups ON setups.id = setup_states.setup
"""


def upgrade() -> None:
    connection = op.get_bind()
    if connection.dialect.name == "sqlite":
        op.execute("CREATE VIRTUAL TABLE job_words USING fts5(words, tokenize = 'unicode61')")
    else:
        op.execute("CREATE TABLE job_words (job integer PRIMARY KEY REFERENCES jobs (id) ON DELETE CASCADE, "
                   "words tsvector NOT NULL)")  # fmt: skip
        op.execute("CREATE INDEX ix_job_words ON job_words USING gin (words)")
    texts: dict[int, list[str]] = {}
    for job, said in connection.execute(sa.text(TEXTS)):
        texts.setdefault(job, []).append(said)
    for job, settings in connection.execute(sa.text("SELECT job, settings FROM pull_files WHERE removed IS NULL")):
        values = json.loads(settings) if isinstance(settings, str) else settings
        texts[job].append(values.get("note", ""))
    for job, said in texts.items():
        index_job(connection, job, said)
