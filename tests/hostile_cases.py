"""Hostile submissions of the small lab ``90_ticks``: what each tries, and the weakness under which it would succeed.

``code`` runs as a cell of its own before the first answer, ``answers`` replaces answer cells, ``change`` edits the
notebook, ``files`` are put beside it.  Code that gets somewhere it must not prints ``ESCAPED``.  No case does real harm:
loops, floods and forks are bounded, so that even the weakened grader survives them.

``weak`` names the weakness that must let the case succeed, which proves that the case can be caught:

=========  ===================================================================================================
runner     no sandbox: an ordinary process with the grader's rights
stock      the learner's process decides: nbclient runs the submission as it is, nbgrader's rules read the score
raw        the judge gets the learner's object itself, or data that nobody has checked
display    what learners wrote is shown as it is
links      links in the submission are followed, and any size is read
=========  ===================================================================================================
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import nbformat


@dataclass(frozen=True)
class Case:
    name: str
    weak: str
    code: str = ""
    answers: dict[str, str] = field(default_factory=dict)
    change: Callable[[Any], None] | None = None
    files: dict[str, Any] = field(default_factory=dict)
    honest: float = 0.0  # what the answers in it are worth


def cell(notebook: Any, name: str) -> Any:
    return next(c for c in notebook.cells if c["id"] == name)


def metadata(name: str, **changes: Any) -> Callable[[Any], None]:
    def change(notebook: Any) -> None:
        cell(notebook, name).metadata.nbgrader.update(changes)

    return change


def source(name: str, text: str) -> Callable[[Any], None]:
    def change(notebook: Any) -> None:
        cell(notebook, name).source = text

    return change


def extra(kind: str, text: str) -> Callable[[Any], None]:
    def change(notebook: Any) -> None:
        make = nbformat.v4.new_markdown_cell if kind == "markdown" else nbformat.v4.new_code_cell
        notebook.cells.append(make(text))

    return change


# --- deciding one's own score ---

FORGE = [
    Case("check replaced by a number", "stock", "def check(*a, **k): return 2.0"),
    Case("check replaced, gives not-a-number", "stock", "def check(*a, **k): return float('nan')"),
    Case("check replaced, gives a text", "stock", "def check(*a, **k): return 'all right'"),
    Case("check replaced, gives nothing", "stock", "def check(*a, **k): return None"),
    Case(
        "the verdict's text is forged",
        "stock",
        "import simkit.check.verdict as v\nv.Verdict._repr_mimebundle_ = lambda s, **k: {'text/plain': str(s.max_score)}",
    ),
    Case(
        "the judge is replaced",
        "stock",
        "import simkit.check.notebook as n\nfrom simkit.check import Verdict, Line\n"
        "n.judge = lambda e, a, w, s: Verdict(e.id, '', 'judged', (Line('x', '', True, e.points, e.points),))",
        {"90-a": "period = 1.0"},
    ),
    Case(
        "the exercise's judge is replaced",
        "stock",
        "from pathlib import Path\nfrom simkit.check import Result, load_lab\n"
        "for e in load_lab(Path.cwd()).exercises.values():\n"
        "    object.__setattr__(e, 'judge', lambda a, m, s, e=e: [Result(c.name, True) for c in e.criteria])",
        {"90-a": "period = 1.0", "90-b": "choice = {'choice': 'A', 'ticks': 1}"},
    ),
    Case(
        "the kit's module is replaced",
        "stock",
        "import sys, types\nfake = types.ModuleType('simkit.check')\nfake.check = lambda *a: 2.0\nsys.modules['simkit.check'] = fake\n"
        "from simkit.check import check",
    ),
    Case("later cells are emptied", "stock", "get_ipython().input_transformers_post.append(lambda lines: [])"),
    Case(
        "the display formatter is forged",
        "stock",
        "from simkit.check import Verdict\nget_ipython().display_formatter.mimebundle_formatter.for_type("
        "Verdict, lambda v: {'text/plain': '2'})",
    ),
    Case(
        "another learner's numbers by environment",
        "stock",
        "import os\nos.environ['TICKBENCH_LEARNER'] = 'ada'",
        {"90-a": "from simkit.check import parameters as p\nperiod = ADA * 0.025"},
    ),
    Case("the check cell is edited", "stock", change=source("90-b", "2.0")),
    Case("the check cell is emptied", "stock", change=source("90-c", "pass")),
    Case("points in the metadata", "stock", "def check(*a, **k): return 100.0", change=metadata("90-a", points=100)),
    Case(
        "a thread that forges later",
        "stock",
        "import threading, time, simkit.check.verdict as v\ndef late():\n    time.sleep(0.01)\n"
        "    v.Verdict._repr_mimebundle_ = lambda s, **k: {'text/plain': str(s.max_score)}\n"
        "threading.Thread(target=late).start(); time.sleep(0.1)",
    ),
    Case(
        "a module beside the notebook shadows numpy",
        "stock",
        "import numpy\nprint(getattr(numpy, 'MARK', ''))",
        files={"numpy.py": "MARK = 'ESCAPED'\n"},
    ),
    Case(
        "a number that equals everything",
        "raw",
        answers={
            "90-a": (
                "class Any(float):\n    def __sub__(self, other): return 0.0\n    __rsub__ = __sub__\n    def __abs__(self): return 0.0\n"
                "period = Any(1e9)"
            )
        },
    ),
    Case(
        "a text that equals everything",
        "raw",
        answers={
            "90-b": (
                "class Any(str):\n    def __eq__(self, other): return True\n    __hash__ = str.__hash__\n"
                "class N(int):\n    def __eq__(self, other): return True\n    __hash__ = int.__hash__\n"
                "choice = {'choice': Any('A'), 'ticks': N(1)}"
            )
        },
    ),
]

# --- reading what is not theirs ---

READ = """
import os
for path in {paths}:
    try:
        data = open(path, 'rb').read()
    except OSError:
        continue
    print('ESCAPED', path, data[:200].hex())
"""


def reads(*paths: str) -> str:
    return READ.replace("{paths}", "[" + ", ".join(paths) + "]")


SPY = [
    Case("reads the course's secret", "runner", reads("COURSE + '/.tickbench/secret'")),
    Case("reads the source with its solutions", "runner", reads("COURSE + '/source/90_ticks/90_ticks.ipynb'")),
    Case("reads another's submission", "runner", reads("COURSE + '/submitted/ada/90_ticks/90_ticks.ipynb'")),
    Case("reads the gradebook", "runner", reads("COURSE + '/gradebook.db'")),
    Case("reads the password file", "runner", reads("'/etc/passwd'")),
    Case("reads a private file of the grader", "runner", reads("HOME + '/private.txt'")),
    Case("reads wrong_answers.py", "runner", reads("SOURCE + '/wrong_answers.py'")),
    Case(
        "reads the grader's environment",
        "runner",
        "import os, glob\nfor f in ['/proc/self/environ', *glob.glob('/proc/[0-9]*/environ')]:\n    try:\n"
        "        if 'canary-env' in open(f, 'rb').read().decode('latin1'): print('ESCAPED'); break\n    except OSError: pass",
    ),
    Case(
        "sees other processes",
        "runner",
        "import os\nif [p for p in os.listdir('/proc') if p.isdigit() and int(p) == HELPER]: print('ESCAPED')",
    ),
]

# --- reaching out ---

TRY = "\ntry:\n    {what}\n    print('ESCAPED')\nexcept (OSError, ValueError, AttributeError) as e:\n    print(e)\n"


def tries(before: str, what: str) -> str:
    return before + TRY.replace("{what}", what.replace("\n", "\n    "))


CALL = "import ctypes, os\nlibc = ctypes.CDLL(None, use_errno=True)\ndef call(r):\n    if r < 0: raise OSError(ctypes.get_errno(), 'refused')\n"

FORK = """
def forked(action):
    pid = os.fork()
    if pid == 0: os._exit(1 if action() else 0)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
"""

REACH = [
    Case(
        "connects to a service of the grader",
        "runner",
        tries("import socket", "socket.create_connection(('127.0.0.1', PORT), 2)"),
    ),
    Case(
        "connects to an abstract socket",
        "runner",
        tries("import socket", "s = socket.socket(socket.AF_UNIX); s.connect('\\0' + ABSTRACT)"),
    ),
    Case("kills a process of the grader", "runner", tries("import os, signal", "os.kill(HELPER, signal.SIGCONT)")),
    Case("traces a process of the grader", "runner", tries(CALL, "call(libc.ptrace(16, HELPER, 0, 0))")),
    Case("leaves its user namespace", "runner", tries(CALL + FORK, "call(-forked(lambda: libc.unshare(0x10000000)))")),
    Case("leaves its mount namespace", "runner", tries(CALL, "call(libc.unshare(0x20000))")),
    Case(
        "makes a device", "runner", tries("import os, stat", "os.mknod('disk', stat.S_IFBLK | 0o600, os.makedev(8, 0))")
    ),
    Case("changes its root", "runner", tries("import os", "os.mkdir('r'); os.chroot('r')")),
    Case(
        "mounts",
        "runner",
        tries(CALL + "os.mkdir('m')", "call(libc.mount(b'x', b'm', b'tmpfs', 0, None)); libc.umount2(b'm', 2)"),
    ),
    Case("becomes another user", "runner", tries("import os", "os.setuid(1234)")),
    Case(
        "adds a key to the kernel's ring", "runner", tries(CALL, "call(libc.syscall(248, b'user', b'k', b'v', 1, -3))")
    ),
    Case(
        "opens a packet socket", "runner", tries("import socket", "socket.socket(socket.AF_PACKET, socket.SOCK_RAW, 0)")
    ),
    Case("writes into the kit", "runner", tries("import simkit", "open(simkit.__file__, 'ab').close()")),
    Case("writes into a package", "runner", tries("import numpy", "open(numpy.__file__, 'ab').close()")),
    Case("writes into the course", "runner", tries("", "open(COURSE + '/left_by_hostile', 'w').close()")),
    Case(
        "writes the gradebook",
        "runner",
        tries(
            "import sqlite3",
            "db = sqlite3.connect(COURSE + '/gradebook.db')\nif not db.execute('select 1 from sqlite_master').fetchall():\n"
            "    raise OSError('empty')",
        ),
    ),
    Case(
        "leaves a daemon",
        "runner",
        "import os, time\nif os.fork() == 0:\n    os.setsid()\n    if os.fork() == 0:\n"
        "        os.execv('/bin/sleep', ['sleep', DAEMON])\n    os._exit(0)\ntime.sleep(0.2)",
    ),
    Case(
        "leaves a file for the next",
        "runner",
        "import os\nprint('ESCAPED' if os.path.exists('/tmp/left') else '')\nopen('/tmp/left', 'w').close()",
    ),
]

# --- using more than their share ---

GREED = [
    Case(
        "300 processes",
        "runner",
        "import os, time\ncount = 0\ntry:\n    while count < 300:\n        if os.fork() == 0:\n            time.sleep(5); os._exit(0)\n"
        "        count += 1\nexcept OSError: pass\nprint('ESCAPED' if count == 300 else count)",
    ),
    Case(
        "5 GB of memory", "runner", "try:\n    x = bytearray(5 * 1024**3); print('ESCAPED')\nexcept MemoryError: pass"
    ),
    Case(
        "500 MB of files",
        "runner",
        "try:\n    for i in range(5):\n        with open(f'/tmp/big{i}', 'wb') as f: f.write(bytes(100 * 1024**2))\n    print('ESCAPED')\n"
        "except OSError: pass\nimport glob, os\nfor p in glob.glob('/tmp/big?'): os.unlink(p)",
    ),
    Case(
        "50,000 files",
        "runner",
        "import os, shutil\nos.makedirs('/tmp/many', exist_ok=True)\ntry:\n    for i in range(50_000): open(f'/tmp/many/{i}', 'w').close()\n"
        "    print('ESCAPED')\nexcept OSError: pass\nshutil.rmtree('/tmp/many')",
    ),
    Case(
        "2,000 open files",
        "runner",
        "import os\ntry:\n    fds = [os.open('/dev/null', 0) for _ in range(2000)]; print('ESCAPED')\nexcept OSError: pass",
    ),
    Case(
        "a long loop",
        "runner",
        "import time\nuntil = time.time() + 8\nwhile time.time() < until: pass\nprint('ESCAPED')",
    ),
    Case(
        "a loop that catches everything",
        "runner",
        "import time\nuntil = time.time() + 14\nwhile time.time() < until:\n    try:\n        while time.time() < until: pass\n"
        "    except BaseException: pass\nprint('ESCAPED')",
    ),
    Case(
        "a long call that cannot be interrupted",
        "runner",
        "import ctypes, signal, time\nsignal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGALRM})\ntime.sleep(14)\nprint('ESCAPED')",
    ),
    Case("prints 50 MB", "stock", "print('flood ' * 9_000_000)"),
    Case("shows 20 MB", "stock", "from IPython.display import HTML, display\ndisplay(HTML('flood ' * 3_500_000))"),
    Case(
        "ends the program",
        "stock",
        "import os\nos._exit(0)",
        {"90-b": "choice = {'choice': 'B', 'ticks': 1}"},
        honest=1,
    ),
    Case(
        "crashes the program",
        "stock",
        "import ctypes\nctypes.string_at(0)",
        {"90-b": "choice = {'choice': 'B', 'ticks': 1}"},
        honest=1,
    ),
    Case(
        "raises out of the cell's machinery",
        "stock",
        "def bad(*a): raise SystemExit\nget_ipython().events.register('pre_run_cell', bad)\n"
        "get_ipython().events.register('post_run_cell', bad)",
        {"90-b": "choice = {'choice': 'B', 'ticks': 1}"},
        honest=1,
    ),
]

# --- data that harms the judge ---

SEND = """
import json, os, stat
def send(data):
    line = json.dumps({"event": "answer", "cell": 99, "exercise": "90-c", "status": "given", "message": "", "data": data}).encode()
    for fd in range(3, 64):
        try:
            if not stat.S_ISREG(os.fstat(fd).st_mode):
                view = memoryview(line + b"\\n")
                while view: view = view[os.write(fd, view):]
        except OSError:
            pass
from simkit.netlist import *
from simkit.netlist.types import Type
bit = Type("bit", 0)
def lamp(regs=(), nodes=(), mems=(), reads=(), clocks=None):
    net = Netlist("x", clocks or [Clock("c", 40_000_000)])
    net.regs, net.nodes, net.mems, net.reads = list(regs), list(nodes) or [Node("const", (), bit, 0)], list(mems), list(reads)
    net.outputs = [Output("lamp", bit, 0, 0)]
    net.endpoints = [Endpoint("lamp", "digital_out", "lamp", bit, {"value": "lamp"})]
    return to_json(net)
"""


def sends(what: str) -> Callable[[Any], None]:
    """Sends the data as an answer after every cell, so also after the check's own answer."""
    return source(
        "90-c-answer",
        SEND + f"DATA = {what}\nBlinker = None\nget_ipython().events.register('post_run_cell', lambda *a: send(DATA))",
    )


JUDGE = [
    Case("a netlist that is no netlist", "raw", change=sends("'[' * 100_000")),
    Case("a node that reads beyond the list", "raw", change=sends("lamp(nodes=[Node('not', (7,), bit)])")),
    Case("a register that does not exist", "raw", change=sends("lamp(nodes=[Node('reg', (), bit, 5)])")),
    Case("an unknown operator", "raw", change=sends("lamp(nodes=[Node('os.system', (), bit)])")),
    Case("a memory of a terabit", "raw", change=sends("lamp(mems=[Mem('m', bit, 10**12)])")),
    Case(
        "a read of no memory",
        "raw",
        change=sends("lamp(reads=[Read('r', 3, 0, 0, 0)], nodes=[Node('const', (), bit, 1)])"),
    ),
    Case("no clock", "raw", change=sends("lamp().replace('[\"c\",40000000,1]', '')")),
    Case("a million nodes", "raw", change=sends("lamp(nodes=[Node('const', (), bit, 0)] * 300_001)")),
    Case("a loop of logic", "raw", change=sends("lamp(nodes=[Node('not', (0,), bit)])")),
    Case("an operator without arguments", "raw", change=sends("lamp(nodes=[Node('and', (), bit)])")),
]

# --- what readers see ---

SHOW = [
    Case(
        "script in an output",
        "display",
        "from IPython.display import HTML, display\ndisplay(HTML('<script>canary()</script>'))",
    ),
    Case(
        "an event handler in an output",
        "display",
        "from IPython.display import HTML, display\ndisplay(HTML('<img src=x onerror=canary()>'))",
    ),
    Case("script in a text cell", "display", change=extra("markdown", "<script>canary()</script>")),
    Case("an event handler in a text cell", "display", change=extra("markdown", "<b onclick=canary()>x</b>")),
    Case(
        "a picture that is a program",
        "display",
        "from IPython.display import display\ndisplay({'image/svg+xml': '<svg onload=\"canary()\"/>'}, raw=True)",
    ),
    Case(
        "a program as an output",
        "display",
        "from IPython.display import display\ndisplay({'application/javascript': 'canary()'}, raw=True)",
    ),
    Case(
        "a frame in Markdown output",
        "display",
        "from IPython.display import Markdown, display\ndisplay(Markdown('<iframe src=\"javascript:canary()\"></iframe>'))",
    ),
]

# --- what is handed in ---

HAND_IN = [
    Case("a link to the source", "links", files={"stolen.txt": ("link", "COURSE/source/90_ticks/90_ticks.ipynb")}),
    Case("a link to a folder", "links", files={"stolen": ("link", "COURSE/source")}),
    Case(
        "a notebook that is a link",
        "links",
        files={"90_ticks.ipynb": ("link", "COURSE/source/90_ticks/90_ticks.ipynb")},
    ),
    Case("a file of 200 MB", "links", files={"big.bin": ("sparse", 200 * 1024**2)}),
    Case("a pipe that never ends", "links", files={"pipe": ("pipe", None)}),
]

CASES = [*FORGE, *SPY, *REACH, *GREED, *JUDGE, *SHOW, *HAND_IN]
