"""The workbench as a server on this machine: loopback alone, one project at a time."""

import secrets
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from loomwright.app.look import font_folder
from loomwright.app.messages_warm import begin_warming
from loomwright.app.workbench import Workbench
from loomwright.terms.errors import LoomwrightError
from loomwright.web import (
    routes_arrange,
    routes_components,
    routes_edit,
    routes_findings,
    routes_frame,
    routes_lines,
    routes_messages,
    routes_signal,
    routes_start,
    routes_table,
    routes_vehicle,
    routes_words,
)
from loomwright.web.desk import Desk
from loomwright.web.events import Events
from loomwright.web.refusals import handle
from loomwright.web.security import Guard

LOOPBACK = "127.0.0.1"
STATIC = Path(__file__).parent / "static"
ROUTERS = (
    routes_start.router, routes_frame.router, routes_findings.router, routes_edit.router, routes_lines.router, routes_signal.router,
    routes_components.router, routes_table.router, routes_words.router,
    routes_vehicle.router, routes_arrange.router, routes_messages.router,
)  # fmt: skip


def application(workbench: Workbench, events: Events) -> FastAPI:
    """All routes, without the gate."""

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        workbench.close()

    app = FastAPI(
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        telemetry={"tracing": False, "metrics": False, "logs": False, "auto_configure": False},
    )
    app.state.desk = Desk(workbench, events)
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=STATIC))
    app.mount("/fonts", StaticFiles(directory=font_folder()))
    handle(app)
    return app


class PortError(LoomwrightError):
    """The port is taken or not ours to take."""


class Server:
    """A workbench that listens. ``address`` opens it; ``run`` serves until ``stop`` or an interrupt."""

    def __init__(self, base: Path, port: int = 0) -> None:
        begin_warming()  # a project is opened and a browser started meanwhile
        self.workbench = Workbench(base)
        self._events = Events(self.workbench)
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._socket.bind((LOOPBACK, port))
        except OSError as error:
            self._socket.close()
            raise PortError(f"port {port} cannot be had: {error.strerror}; --port 0 takes a free one") from error
        self.port = int(self._socket.getsockname()[1])
        token = secrets.token_urlsafe(24)
        self.address = f"http://{LOOPBACK}:{self.port}/?token={token}"
        guarded: ASGIApp = Guard(application(self.workbench, self._events), self.port, token)
        config = uvicorn.Config(
            guarded, log_level="error", access_log=False, ws="none", server_header=False, timeout_graceful_shutdown=2
        )
        self._server = _Uvicorn(config, self._events)

    def run(self) -> None:
        """Serve until it is stopped."""
        try:
            self._server.run(sockets=[self._socket])
        finally:
            self._socket.close()
            self.workbench.close()

    def stop(self) -> None:
        """Ask ``run``, in whatever thread, to end."""
        self._server.should_exit = True

    @property
    def started(self) -> bool:
        """Whether it takes requests."""
        return bool(self._server.started)


class _Uvicorn(uvicorn.Server):
    """Ends the streams of events before it waits for open requests."""

    def __init__(self, config: uvicorn.Config, events: Events) -> None:
        super().__init__(config)
        self._events = events

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._events.end()
        await super().shutdown(sockets)
