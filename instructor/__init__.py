"""Grading, judging, authoring: what instructors and authors run.  simkit never imports this package."""
