"""Running a notebook's cells in a process of their own, and judging its answers in another.

:mod:`.session` is the child that runs the learner's cells and hands out answers as data; :mod:`.parent` starts it,
reads what it says within limits, and trusts none of it; :mod:`.worker` is the judge's process and
:mod:`.judges` its handle.
"""

from .judges import JudgeProcess, JudgeTask
from .parent import Cell, Job, Limits, RunResult, run_job

__all__ = ["Cell", "Job", "JudgeProcess", "JudgeTask", "Limits", "RunResult", "run_job"]
