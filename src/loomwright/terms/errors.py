"""The exceptions of the project; user content never raises, these are for callers and for the world outside.

LoomwrightError
+-- StaleWriteError      the file changed since it was read; both versions are carried
+-- RefusedWriteError    the edit cannot be written (outside the folder, no rights, no such place in the text)
+-- PathError            a change names a place that the vehicle does not have
"""


class LoomwrightError(Exception):
    """The root: catch this at a face."""


class StaleWriteError(LoomwrightError):
    """The file on disk is no longer the one that was read."""

    def __init__(self, file: str, read: bytes, found: bytes) -> None:
        super().__init__(f"{file} was changed by somebody else since it was read; nothing was written")
        self.file, self.read, self.found = file, read, found


class RefusedWriteError(LoomwrightError):
    """The edit cannot be written; the message says why and nothing was touched."""


class PathError(LoomwrightError):
    """A change names a place that the vehicle does not have."""
