"""The pages and their guard, put together as one ASGI application."""

from __future__ import annotations

import contextlib
import sys
import traceback
from collections.abc import AsyncIterator

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from trubshoot.report.page.style import stylesheet
from trubshoot.web import (
    pages_answers,
    pages_batch,
    pages_drill,
    pages_forward,
    pages_interview,
    pages_learn,
    pages_list,
    pages_new,
    pages_pair,
)
from trubshoot.web.guard import Guard
from trubshoot.web.sessions import Clock
from trubshoot.web.site import FOLDER, Site, missing

# what may be asked for by name, and as what; nothing else of the folder can be
STATIC = {
    "app.css": "text/css; charset=utf-8",
    "app.js": "text/javascript; charset=utf-8",
    "mark.svg": "image/svg+xml",
}
_FILES = {name: (FOLDER / "static" / name).read_bytes() for name in STATIC}
_FILES["page.css"] = stylesheet().encode("utf-8")


async def _static(request: Request) -> Response:
    name = request.path_params["file"]
    if name not in _FILES:
        return PlainTextResponse("There is no such file.\n", 404)
    kind = STATIC.get(name, "text/css; charset=utf-8")
    return Response(_FILES[name], media_type=kind, headers={"cache-control": "max-age=600"})


async def _missing(request: Request, _: Exception) -> Response:
    return missing(request)


async def _wrong_method(_: Request, __: Exception) -> Response:
    return PlainTextResponse("Not that way.\n", 405)


async def _failed(_: Request, error: Exception) -> Response:
    """Answer for a fault of ours; what it was goes to the terminal only."""
    sys.stderr.write("trubshoot: a fault of trubshoot, please report it:\n")
    traceback.print_exception(error)
    return PlainTextResponse(
        "A fault of trubshoot. Nothing was assessed: treat sealed bottles as suspect until it is. "
        "The terminal says more.\n",
        500,
    )


def make_app(site: Site, clock: Clock) -> Guard:
    """Return the application.

    Args:
        site: the cellar, the kitchen, and who may come in.
        clock: seconds that only grow, for the limits on rates.
    """

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        site.kitchen.close()

    get, post = ["GET"], ["POST"]
    app = Starlette(
        routes=[
            Route("/", pages_list.batches, methods=get),
            Route("/new", pages_new.new, methods=get + post),
            Route("/batch/{name}", pages_batch.batch, methods=get),
            Route("/batch/{name}/reading", pages_batch.reading, methods=post),
            Route("/batch/{name}/noticed", pages_batch.noticed, methods=get + post),
            Route("/batch/{name}/did", pages_batch.did, methods=get + post),
            Route("/batch/{name}/undo", pages_batch.undo, methods=post),
            Route("/batch/{name}/page", pages_answers.whole, methods=get),
            Route("/batch/{name}/bottling", pages_answers.bottling, methods=get),
            Route("/batch/{name}/whatif", pages_forward.whatif, methods=get),
            Route("/batch/{name}/plan", pages_forward.plan, methods=get),
            Route("/batch/{name}/bottles", pages_answers.bottles, methods=get),
            Route("/interview", pages_interview.start, methods=get),
            Route("/interview/begin", pages_interview.begin, methods=post),
            Route("/interview/{id}", pages_interview.show, methods=get),
            Route("/interview/{id}/answer", pages_interview.answer, methods=post),
            Route("/interview/{id}/back", pages_interview.back, methods=post),
            Route("/interview/{id}/enough", pages_interview.enough, methods=post),
            Route("/interview/{id}/save", pages_interview.save, methods=post),
            Route("/learn", pages_learn.learn, methods=get),
            Route("/learn/map", pages_learn.whole_map, methods=get),
            Route("/learn/{kind}/{id}", pages_learn.thing, methods=get),
            Route("/drill", pages_drill.start, methods=get),
            Route("/drill/begin", pages_drill.begin, methods=post),
            Route("/drill/{id}", pages_drill.show, methods=get),
            Route("/drill/{id}/answer", pages_drill.answer, methods=post),
            Route("/pair", pages_pair.pair, methods=get + post),
            Route("/pair/code", pages_pair.code, methods=post),
            Route("/static/{file}", _static, methods=get),
        ],
        exception_handlers={404: _missing, 405: _wrong_method, Exception: _failed},
        lifespan=lifespan,
    )
    app.state.site = site
    return Guard(app, site.doors, site.sessions, clock)
