"""Units, theme and size of letters, kept in the browser."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from pulsewright.web.app import see
from pulsewright.web.measures import CHOICES, COOKIE, chosen
from pulsewright.web.pages import page, view_of
from pulsewright.web.writes import SAME_SITE

router = APIRouter()
YEAR = 31_536_000


@router.get("/look")
def look(request: Request, back: str = "/") -> Response:
    """Every choice that there is."""
    return page(request, "look", choices=CHOICES, back=_inside(back))


@router.post("/look", dependencies=[SAME_SITE])
async def keep(request: Request) -> Response:
    """Keep what was chosen."""
    form = await request.form()
    view = chosen(view_of(request), {name: str(form.get(name, "")) for name in CHOICES})
    answer = see(_inside(str(form.get("back", "/"))))
    answer.set_cookie(COOKIE, view.as_cookie(), samesite="strict", max_age=YEAR)
    return answer


def _inside(path: str) -> str:
    """A path of ours; anything else is the first page."""
    return path if path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable() else "/"
