"""Copying labs into a learner's folder.  A file that the learner may have changed is never touched."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

RECORD = Path(".tickbench") / "editions.json"
SKIP = {"__pycache__", ".ipynb_checkpoints", ".tickbench"}


class Copied(NamedTuple):
    """One file's outcome: "new", "same", "updated" (the learner had not changed it) or "beside" (they had)."""

    path: Path
    outcome: str


def copy_labs(labs: Path, folder: Path, version: str) -> list[Copied]:
    """Bring every lab of ``labs`` into ``folder``.

    A file that is not there yet is copied.  A file that is exactly as an earlier edition left it is brought up to date.
    Any other is left alone, and a newer edition is put beside it under a name that holds the version.
    """
    folder.mkdir(parents=True, exist_ok=True)
    record = _read_record(folder)
    done = []
    for source in _files(labs):
        name = source.relative_to(labs).as_posix()
        done.append(_copy(source, folder / name, name, version, record))
    _write_record(folder, record)
    return done


def _files(labs: Path) -> Iterator[Path]:
    for exercises in sorted(labs.glob("*/exercises.py")):
        for path in sorted(exercises.parent.rglob("*")):
            if path.is_file() and not SKIP & set(path.relative_to(labs).parts):
                yield path


def _copy(source: Path, target: Path, name: str, version: str, record: dict[str, str]) -> Copied:
    content = source.read_bytes()
    new = _digest(content)
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
        record[name] = new
        return Copied(target, "new")
    there = _digest(target.read_bytes()) if target.is_file() else ""
    if there == new or record.get(name) == new:
        record[name] = new
        return Copied(target, "same")
    if there == record.get(name):
        target.write_bytes(content)
        record[name] = new
        return Copied(target, "updated")
    return _beside(target, content, version)


def _beside(target: Path, content: bytes, version: str) -> Copied:
    """Put a newer edition beside the learner's file, under a name that is free or holds just this content."""
    for suffix in (version, f"{version}-{_digest(content)[:8]}"):
        path = target.with_name(f"{target.stem}.edition-{suffix}{target.suffix}")
        if not path.exists():
            path.write_bytes(content)
            return Copied(path, "beside")
        if path.read_bytes() == content:
            return Copied(path, "same")
    return Copied(path, "same")


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _read_record(folder: Path) -> dict[str, str]:
    try:
        record = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return {k: v for k, v in record.items() if isinstance(v, str)} if isinstance(record, dict) else {}


def _write_record(folder: Path, record: dict[str, str]) -> None:
    path = folder / RECORD
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps(record, indent=1, sort_keys=True), encoding="utf-8")
