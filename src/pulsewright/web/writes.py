"""What every write must carry: the token of a page of ours, in the form or in a header."""

from __future__ import annotations

from collections.abc import AsyncIterator

from fastapi import Depends, HTTPException, Request

from pulsewright.web import words
from pulsewright.web.door import Door

TOKEN_HEADER = "x-pulsewright-token"
MOST_FILES, MOST_FIELDS = 60, 400


async def _same_site(request: Request) -> AsyncIterator[None]:
    """Raises HTTPException 403 where the token is missing or is another browser's."""
    token = request.headers.get(TOKEN_HEADER, "")
    if not token and "form" in request.headers.get("content-type", ""):
        form = await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS)
        token = str(form.get("token", ""))
    door: Door = request.app.state.door
    if not door.allows(request.state.visit, token):
        await request.close()
        raise HTTPException(403, words.TEXT["token_old"])
    try:
        yield
    finally:
        await request.close()  # the files of a form that a page has read by itself


SAME_SITE = Depends(_same_site)
