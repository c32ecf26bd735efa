"""Full-text search over jobs: the words of a job, and a person's words as a query.

Both sides are folded here (case, accents, signs), so that SQLite and PostgreSQL find the same, and no sign in a query
means anything to either.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from sqlalchemy import Connection, Select, text

from pulsewright.records.tables import jobs

_WORD = re.compile(r"[^\W_]+")
MOST_WORDS = 20  # of a query
LONGEST_WORD = 100


def folded(texts: Iterable[str]) -> list[str]:
    """Words without case, accents and signs."""
    plain = unicodedata.normalize("NFKD", " ".join(texts)).casefold()
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return [word[:LONGEST_WORD] for word in _WORD.findall(plain)]


def index_job(connection: Connection, job: int, texts: Iterable[str]) -> None:
    """Let a job be found by these texts and no others."""
    words = " ".join(folded(texts))
    forget_job(connection, job)
    if connection.dialect.name == "sqlite":
        connection.execute(text("INSERT INTO job_words (rowid, words) VALUES (:job, :words)"), _row(job, words))
    else:
        connection.execute(
            text("INSERT INTO job_words (job, words) VALUES (:job, to_tsvector('simple', :words))"), _row(job, words)
        )


def forget_job(connection: Connection, job: int) -> None:
    """Let a job be found by nothing."""
    key = "rowid" if connection.dialect.name == "sqlite" else "job"
    connection.execute(text(f"DELETE FROM job_words WHERE {key} = :job"), {"job": job})


def _row(job: int, words: str) -> dict[str, int | str]:
    return {"job": job, "words": words}


def holding(connection: Connection, query: Select, asked: str) -> Select:
    """The query over `jobs` narrowed to those that hold every word, or its start; the best first.

    Where nothing that is a word was asked, nothing is narrowed.
    """
    words = folded([asked])[:MOST_WORDS]
    if not words:
        return query.order_by(jobs.c.changed.desc(), jobs.c.id.desc())
    if connection.dialect.name == "sqlite":
        said = " ".join(f'"{word}"*' for word in words)
        found = "SELECT rowid AS job, bm25(job_words) AS place FROM job_words WHERE job_words MATCH :said"
    else:
        said = " & ".join(f"'{word}':*" for word in words)
        found = (
            "SELECT job, -ts_rank(words, to_tsquery('simple', :said)) AS place FROM job_words "
            "WHERE words @@ to_tsquery('simple', :said)"
        )
    rows = text(found).bindparams(said=said).columns(jobs.c.id.label("job"), text_column("place")).subquery("found")
    return query.join(rows, rows.c.job == jobs.c.id).order_by(rows.c.place, jobs.c.changed.desc(), jobs.c.id.desc())


def text_column(name: str):
    """A number that a textual query gives by this name."""
    from sqlalchemy import Float, column

    return column(name, Float)
