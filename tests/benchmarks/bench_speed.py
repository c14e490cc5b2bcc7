"""How fast the bench runs: a capstone-size design, closed loop, host polling at 20 Hz.

    python tests/benchmarks/bench_speed.py [--seconds 10] [--memory-seconds 60] [--json]

``realtime_factor`` is bench seconds per second of wall time on one core (``cpu_factor``: per second of processor time,
which says more while other programs run); ``memory_growth_mb`` is how much the process
grew between the first and the last tenth of ``--memory-seconds`` bench seconds; ``deterministic`` tells whether two
runs with one seed gave equal hashes, and ``engines_agree`` whether a short run gives the same on both engines.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))  # so that it runs as a file, too

from simkit import ms, s
from simkit.bench import FanHouse, Rig, load
from tests.benchmarks.capstone import Monitor

POLLS_PER_S = 20


def start(record: list[str] | str, engine: str = "native", seed: int = 1) -> Rig:
    return load(Monitor, FanHouse(seed=seed), record=record, engine=engine)


def poll(rig: Rig, polls: int) -> None:
    """Run on for ``polls`` twentieths of a second; the host looks at its registers and takes the log each time."""
    for _ in range(polls):
        rig.run(s(1) / POLLS_PER_S)
        host = rig.host
        assert host.period >= 0 and host.level_a >= 0 and host.level_b >= 0 and host.temperature > -(2**23)
        host.log.read()


def factors(seconds: int) -> tuple[float, float]:
    """Bench seconds per second of wall time, and per second of this process's processor time."""
    rig = start([])
    poll(rig, 2)
    wall, cpu = time.perf_counter(), time.process_time()
    poll(rig, POLLS_PER_S * seconds)
    return seconds / (time.perf_counter() - wall), seconds / (time.process_time() - cpu)


def memory_growth(seconds: int) -> float:
    """Growth in MB of the resident memory from the first tenth to the end."""
    rig = start([])
    poll(rig, POLLS_PER_S * seconds // 10)
    before = resident_mb()
    poll(rig, POLLS_PER_S * seconds - POLLS_PER_S * seconds // 10)
    return resident_mb() - before


def resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 2**20


def fingerprint(rig: Rig) -> str:
    digest = hashlib.sha256()
    for name in sorted(rig.recorded):
        trace = rig.trace(name)
        digest.update(name.encode() + trace.ticks.astype("<i8").tobytes() + trace.values.astype("<i8").tobytes())
    return digest.hexdigest()


def measure(seconds: int, memory_seconds: int) -> dict[str, object]:
    shown = ["accel_a", "accel_b", "pulse", "speed", "relay", "level_b", "period", "log.count"]
    twice = [fingerprint(start(shown).run(s(2))) for _ in range(2)]
    both = [fingerprint(start("all", engine).run(ms(1))) for engine in ("native", "reference")]
    wall, cpu = factors(seconds)
    return {
        "realtime_factor": round(wall, 2),
        "cpu_factor": round(cpu, 2),
        "bench_seconds": seconds,
        "memory_growth_mb": round(memory_growth(memory_seconds), 1),
        "memory_bench_seconds": memory_seconds,
        "deterministic": twice[0] == twice[1],
        "engines_agree": both[0] == both[1],
        "hash": twice[0],
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=int, default=10, help="bench seconds timed for the factor (default 10)")
    parser.add_argument("--memory-seconds", type=int, default=60, help="bench seconds for the memory (default 60)")
    parser.add_argument("--json", action="store_true", help="print one line of JSON")
    args = parser.parse_args()
    result = measure(args.seconds, args.memory_seconds)
    print(json.dumps(result) if args.json else "\n".join(f"{key}: {value}" for key, value in result.items()))


if __name__ == "__main__":
    main()
