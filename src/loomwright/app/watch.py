"""Follow a session's folder: what somebody edits outside is taken in at once."""

import threading
from collections.abc import Iterator

from loomwright.app.session import Session

POLL_S = 0.5
"""Seconds between two looks where the system tells nothing of changes."""
QUIET_MS = 30
"""Milliseconds of quiet before a look, so that an editor's several writes count as one."""


class Watch:
    """A thread that calls ``session.follow`` after changes in its folder. Ends with ``stop``."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)

    def start(self) -> "Watch":
        """Begin; returns itself."""
        self._thread.start()
        return self

    def stop(self) -> None:
        """End the thread and wait for it."""
        self._stop.set()
        self._thread.join(5)

    def _run(self) -> None:
        for _ in self._signals():
            if self._stop.is_set():
                return
            self._session.follow()

    def _signals(self) -> Iterator[None]:
        """One signal for each burst of changes; from the system where it can tell, by the clock where it cannot."""
        from watchfiles import watch

        try:
            for _ in watch(
                self._session.folder,
                watch_filter=lambda _, path: path.endswith(".toml"),
                stop_event=self._stop,
                debounce=200,
                step=QUIET_MS,
                rust_timeout=int(POLL_S * 1e3),
                yield_on_timeout=True,  # a look now and then costs nothing and meets file systems that tell nothing
                raise_interrupt=False,
            ):
                yield None
        except OSError:  # no watches left, or a file system that has none
            pass
        while not self._stop.wait(POLL_S):
            yield None
