"""What a cohort's grades say: about the exercises, about what the class believes, and about who needs help.

:func:`read_cohort` reads a course; :mod:`.statistics` measures; :mod:`.figures` draws; :mod:`.page` writes it all down.
Nothing here changes a grade, and nothing leaves the machine.
"""

from .cohort import Cohort, LabScores, read_cohort

__all__ = ["Cohort", "LabScores", "read_cohort"]
