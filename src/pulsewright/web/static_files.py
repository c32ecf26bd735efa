"""What pages fetch besides our own files: the colours, and the chart library out of its installed package."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from pulsewright.web.chart_library import plotly_text
from pulsewright.web.pages import theme_css

router = APIRouter()
KEPT = {"Cache-Control": "public, max-age=86400"}


@router.get("/static/theme.css", include_in_schema=False)
def theme() -> Response:
    """The colours of both themes."""
    return Response(theme_css(), media_type="text/css", headers=KEPT)


@router.get("/static/plotly.js", include_in_schema=False)
def plotly() -> Response:
    """plotly.js as the plotly package brings it."""
    return Response(plotly_text(), media_type="text/javascript", headers=KEPT)
