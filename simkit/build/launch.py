"""Runs one tool: ``python launch.py TOOL MACHINE WAIT PARENT ARGUMENTS...``.  A script of its own, which imports nothing of the kit: every
build waits for it.

TOOL is a package of wheels and its WebAssembly, as ``package/file.wasm``; MACHINE the file with its machine code, made here if it is not
there.  The tool sees the present folder as ``/build``, what its package comes with as ``/share``, a folder for its own scratch as ``/tmp``,
and nothing else.  With WAIT 1 it goes as far as it comes without its input, and opens the first file of ``/build`` when a line comes on
the standard input.  On Linux it dies with PARENT.
"""

import contextlib
import ctypes
import os
import shutil
import signal
import sys
import tempfile
from importlib.util import find_spec

import wasmtime

LARGE_PAGES = 14  # MADV_HUGEPAGE of madvise(2)
PAGE = 1 << 21  # bytes of a large page
MEMORY = 1 << 32  # bytes that the engine keeps free for a tool's memory: as far as its 32 bits reach


BUILD = 3
"""The tool's number for its folder ``/build``: the first after the three standard streams."""

# A host function finds a tool's memory through the instance that calls it.  So the gate is a module of its own, which has the tool's memory
# and stands between the tool and the host; and because the tool must be there before its memory is, the tool calls it through a table.
TYPE = "(type $open (func (param i32 i32 i32 i32 i32 i64 i64 i32 i32) (result i32)))"  # path_open of WASI preview 1
ALL = " ".join(f"(local.get {i})" for i in range(9))
DOOR = f"""(module {TYPE} (table (export "table") 1 funcref)
  (func (export "path_open") (type $open) (call_indirect (type $open) {ALL} (i32.const 0))))"""
GATE = f"""(module {TYPE}
  (import "tool" "memory" (memory 0)) (export "memory" (memory 0))
  (import "host" "wait" (func $wait (param i32)))
  (import "host" "path_open" (func $open (type $open)))
  (import "door" "table" (table 1 funcref))
  (func $gated (type $open) (call $wait (local.get 0)) (call $open {ALL}))
  (elem (i32.const 0) $gated))"""


class Unwanted(Exception):
    """The standard input ended: nobody wants the tool's work any more."""


def die_with(parent: int) -> None:
    """Ask Linux to kill this process when the one that started it dies (prctl(2), PR_SET_PDEATHSIG), so that no tool outlives a kernel."""
    ctypes.CDLL(None).prctl(1, int(signal.SIGKILL))
    if os.getppid() != parent:  # it was killed before we asked
        os._exit(1)


def ask_for_large_pages(memory: wasmtime.Memory, store: wasmtime.Store) -> None:
    """The placer jumps about in 150 MB; with large pages it finds its way in 5 to 10 % less time.  Refused, it only takes longer."""
    start = ctypes.cast(memory.data_ptr(store), ctypes.c_void_p).value or 0
    whole = -(-start // PAGE) * PAGE
    ctypes.CDLL(None).madvise(ctypes.c_void_p(whole), ctypes.c_size_t(MEMORY - PAGE), LARGE_PAGES)


def loaded(engine: wasmtime.Engine, wasm: str, machine: str) -> wasmtime.Module:
    """The tool's machine code; made and kept first if there is none, or one for another kind of processor."""
    with contextlib.suppress(wasmtime.WasmtimeError):
        return wasmtime.Module.deserialize_file(engine, machine)
    with open(wasm, "rb") as source:
        module = wasmtime.Module(engine, source.read())
    part = f"{machine}.{os.getpid()}"
    with open(part, "wb") as target:
        target.write(module.serialize())
    os.replace(part, machine)
    return module


def gated(
    engine: wasmtime.Engine, linker: wasmtime.Linker, store: wasmtime.Store, module: wasmtime.Module
) -> wasmtime.Instance:
    """The tool, held when it first opens something in ``/build`` until a line comes; :class:`Unwanted` is raised there if none does."""
    waiting = True

    def wait(folder: int) -> None:
        nonlocal waiting
        if waiting and folder == BUILD:
            if not sys.stdin.buffer.readline():
                raise Unwanted
            waiting = False

    wasi = "wasi_snapshot_preview1"
    path_open = linker.get(store, wasi, "path_open")
    door = wasmtime.Instance(store, wasmtime.Module(engine, DOOR), []).exports(store)
    linker.allow_shadowing = True
    linker.define(store, wasi, "path_open", door["path_open"])
    tool = linker.instantiate(store, module)
    host = wasmtime.Func(store, wasmtime.FuncType([wasmtime.ValType.i32()], []), wait)
    parts = [tool.exports(store)["memory"], host, path_open, door["table"]]
    wasmtime.Instance(store, wasmtime.Module(engine, GATE), parts)
    return tool


def main() -> int:
    """The tool's exit code."""
    tool, machine, wait, parent, *arguments = sys.argv[1:]
    if sys.platform == "linux":
        die_with(int(parent))
    package, file = tool.split("/")
    spec = find_spec(package)
    assert spec is not None and spec.origin is not None
    home = os.path.dirname(spec.origin)

    config = wasmtime.Config()
    config.wasm_exceptions = True
    engine = wasmtime.Engine(config)
    module = loaded(engine, os.path.join(home, file), machine)

    scratch = tempfile.mkdtemp(prefix=".tmp-", dir=".")
    world = wasmtime.WasiConfig()
    world.argv = [file.removesuffix(".wasm"), *arguments]
    world.inherit_stdout()
    world.inherit_stderr()
    world.preopen_dir(".", "/build")
    world.preopen_dir(scratch, "/tmp")
    if os.path.isdir(os.path.join(home, "share")):
        world.preopen_dir(os.path.join(home, "share"), "/share")
    linker = wasmtime.Linker(engine)
    linker.define_wasi()
    store = wasmtime.Store(engine)
    store.set_wasi(world)
    instance = gated(engine, linker, store, module) if wait == "1" else linker.instantiate(store, module)
    exports = instance.exports(store)
    memory, start = exports["memory"], exports["_start"]
    assert isinstance(memory, wasmtime.Memory) and isinstance(start, wasmtime.Func)
    if sys.platform == "linux":
        ask_for_large_pages(memory, store)
    try:
        start(store)
        return 0
    except Unwanted:
        return 1
    except wasmtime.ExitTrap as end:
        return end.code
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
