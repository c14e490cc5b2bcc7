"""Every attempt, kept once and for good: files under the hash of their content, and a log that is only added to.

Grading reads submissions from here, so what was graded can be shown later, whatever happens to ``submitted/``.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
from datetime import UTC, datetime
from pathlib import Path

from .submissions import Submitted


class Store:
    """The attempts of a course, in ``.tickbench/attempts``."""

    def __init__(self, root: Path) -> None:
        self.folder = root / ".tickbench" / "attempts"
        self._log = self.folder / "attempts.jsonl"
        self._known: set[str] = set()
        if self._log.is_file():
            for line in self._log.read_text(encoding="utf-8").splitlines():
                try:
                    self._known.add(json.loads(line)["attempt"])
                except (ValueError, KeyError, TypeError):
                    continue  # the last line of a killed run: its attempt is logged again

    def keep(self, submitted: Submitted) -> str:
        """Keep an attempt, and return its hash; the same files of the same learner and lab have the same hash."""
        blobs = {name: self._keep_blob(content) for name, content in sorted(submitted.files.items())}
        text = json.dumps([submitted.learner, submitted.lab, blobs, submitted.refused], ensure_ascii=False)
        attempt = hashlib.sha256(text.encode()).hexdigest()
        if attempt not in self._known:
            self._append(
                {
                    "attempt": attempt,
                    "learner": submitted.learner,
                    "lab": submitted.lab,
                    "files": blobs,
                    "refused": submitted.refused,
                    "seen": datetime.now(UTC).isoformat(),
                }
            )
            self._known.add(attempt)
        return attempt

    def read(self, blob: str) -> bytes:
        """The content of a kept file."""
        return self._path(blob).read_bytes()

    def _path(self, blob: str) -> Path:
        return self.folder / "files" / blob[:2] / blob[2:]

    def _keep_blob(self, content: bytes) -> str:
        blob = hashlib.sha256(content).hexdigest()
        path = self._path(blob)
        if not path.is_file():
            path.parent.mkdir(parents=True, exist_ok=True)
            part = path.with_name(f"{path.name}.{os.getpid()}.part")
            with open(part, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            part.rename(path)
        return blob

    def _append(self, entry: dict[str, object]) -> None:
        """Add a line to the log.  A torn last line of a killed run is closed first, so that this one can be read."""
        self.folder.mkdir(parents=True, exist_ok=True)
        with open(self._log, "a+b") as file:
            fcntl.flock(file, fcntl.LOCK_EX)
            end = file.seek(0, os.SEEK_END)
            if end:
                file.seek(end - 1)
                if file.read(1) != b"\n":
                    file.write(b"\n")
            file.write(json.dumps(entry, ensure_ascii=False).encode() + b"\n")
            file.flush()
            os.fsync(file.fileno())
