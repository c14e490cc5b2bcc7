"""Grading a class: attempt store, rebuild, run, judge, one writer.

    submitted/ -> store -> rebuild -> run (sandbox) -> judge (clean process) -> writer -> gradebook.db, autograded/

:mod:`.engine` is the middle of that line and knows no database; :mod:`.batch` drives it; :mod:`.steps` puts the same
engine into ``nbgrader autograde``.
"""
