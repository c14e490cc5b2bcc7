"""A warmed process that forks a sandboxed child for each job: what bubblewrap does, without starting Python each time.

:mod:`.server` is the warmed process, :mod:`.isolate` builds the child's sandbox with the kernel's own calls,
:mod:`.filter` is its list of allowed system calls, :mod:`.runner` the grader's handle.
"""
