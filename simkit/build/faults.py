"""What can go wrong in a build, in two kinds that are never mixed."""

from __future__ import annotations


class BuildFault(Exception):
    """The design cannot be built as it is; the text says what is in the way and what to do."""


class ToolFault(RuntimeError):
    """A tool failed in a way that is not the design's fault; the text ends with what the tool said last."""


class Cancelled(Exception):
    """The build was stopped by whoever started it; nothing was kept."""
