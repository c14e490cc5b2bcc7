"""Authoring: from a lab's text source to what learners open."""
