"""The door for other machines: the one-time code."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from pulsewright.web.door import Door
from pulsewright.web.guard import PASS
from pulsewright.web.pages import page

router = APIRouter()


@router.get("/enter")
def ask(request: Request, code: str = "") -> Response:
    """Ask for the code; a link that brings it is let in."""
    return _let_in(request, code) or page(request, "enter", wrong=bool(code))


@router.post("/enter")
def enter(request: Request, code: Annotated[str, Form(max_length=40)] = "") -> Response:
    """Let a browser in that has the code; it needs no token, since it has seen no page yet."""
    return _let_in(request, code) or page(request, "enter", status=403, wrong=True)


def _let_in(request: Request, code: str) -> Response | None:
    door: Door = request.app.state.door
    given = door.admit(code) if code else None
    if given is None:
        return None
    answer = RedirectResponse("/", status_code=303)
    # lax: a link that is tapped in a message comes from elsewhere, and a strict cookie would stay behind on the way to
    # the page, with the code used up; writes ask for a token all the same
    answer.set_cookie(PASS, given, httponly=True, samesite="lax", max_age=86_400)
    return answer
