"""Server-sent events: every open page hears that there is something new, and asks for its parts itself."""

import asyncio
from collections.abc import AsyncIterator

from loomwright.app.workbench import Workbench

QUIET_S = 20.0
"""Seconds after which a line without meaning is sent, so that a dead connection is noticed."""


class Events:
    """One event for each page that listens. ``tell`` may be called from any thread."""

    def __init__(self, workbench: Workbench) -> None:
        self._workbench = workbench
        self._loop: asyncio.AbstractEventLoop | None = None
        self._waiting: set[asyncio.Event] = set()
        self._ended = False
        workbench.listen(self.tell)

    def tell(self) -> None:
        """Wake every stream."""
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._wake)

    def end(self) -> None:
        """End every stream, so that the server can close. Called in the loop."""
        self._ended = True
        self._wake()

    def _wake(self) -> None:
        for event in self._waiting:
            event.set()

    async def stream(self) -> AsyncIterator[str]:
        """The state of the open project, now and whenever it is another one."""
        self._loop = asyncio.get_running_loop()
        news = asyncio.Event()
        self._waiting.add(news)
        told = None
        try:
            while not self._ended:
                session = self._workbench.session
                state = session.state if session is not None else ""
                if state != told:
                    yield f"event: {'state' if state else 'gone'}\ndata: {state}\n\n"
                    told = state
                try:
                    await asyncio.wait_for(news.wait(), QUIET_S)
                    news.clear()
                except TimeoutError:
                    yield ": quiet\n\n"
        finally:
            self._waiting.discard(news)
