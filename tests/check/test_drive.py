"""Driving a design tick by tick, as judges do."""

import pytest

from simkit import (
    AnalogIn,
    AnalogOut,
    Design,
    DigitalIn,
    DigitalOut,
    HostReg,
    Reg,
    clocked,
    compile_design,
    sequenced,
    signed,
    unsigned,
    wait,
)
from simkit.check import AnswerFault, drive, endpoint, flip_flops
from simkit.check.drive import watched


class Small(Design):
    door = DigitalIn("switch", sync=0)
    level = AnalogIn("probe", signed(8))
    lamp = DigitalOut("lamp")
    limit = HostReg(unsigned(8), reset=3)
    last = HostReg(signed(8), access="ro")
    spare = Reg(unsigned(5))

    @clocked
    def watch(self):
        self.lamp = self.door and self.limit > 3
        self.spare = self.spare + 1
        if self.level.valid:
            self.last = self.level.value

    @sequenced(every=10)
    def slow(self):
        wait(15)


NETLIST = compile_design(Small)


def test_lines_samples_and_writes_arrive_in_their_tick():
    run = drive(NETLIST, 60, [(20, "switch", 1), (30, "limit", 4), (40, "probe", -5), (50, "door", 0)])
    assert run.changes("lamp").tolist() == [32, 51]  # the write is seen in 31, the lamp one tick later
    assert run.changes("lamp", 1).tolist() == [32]
    assert (run.at("last", 40), run.at("last", 41), run.at("limit", 0)) == (0, -5, 3)
    assert run.late == {"slow": 3}


def test_what_cannot_be_driven_is_a_verdict_not_a_crash():
    with pytest.raises(AnswerFault, match="has no 'horn'; it has switch, probe, lamp, limit, last"):
        drive(NETLIST, 10, [(1, "horn", 1)])
    with pytest.raises(AnswerFault, match="300 does not fit"):
        drive(NETLIST, 10, [(1, "limit", 300)])
    assert endpoint(NETLIST, "probe") is endpoint(NETLIST, "level")


class Stairs(Design):
    speed = AnalogOut("fan A speed")

    @sequenced
    def climb(self):
        self.speed.write(self.speed + 100)


def test_an_analog_output_takes_its_code_when_the_drive_says_so():
    """write() gives 100 until the take in tick 10; the next code stands in tick 13, and so on.  Values do not count."""
    changes = [(tick, "fan A speed", value) for tick, value in ((10, 1), (30, 0), (70, 7))]
    run = drive(compile_design(Stairs), 90, changes)
    assert run.changes("speed").tolist() == [1, 13, 33, 73]
    assert [run.at("speed", tick) for tick in (10, 30, 70, 89)] == [100, 200, 300, 400]


def test_size_counts_state_but_not_what_the_kit_adds():
    """lamp 1, limit 8, last 8, spare 5; the paced loop: its state 1, period timer 4, wait timer 4."""
    extra = sum(reg.type.width for reg in NETLIST.regs if reg.kind == "state") + sum(t.width for t in NETLIST.timers)
    assert flip_flops(NETLIST) == 1 + 8 + 8 + 5 + extra


def test_many_changes_arrive_as_few_do():
    """From 64 changes on they are taken as arrays; two names of one endpoint keep their order."""
    few = [(20 + 10 * i, "probe", i % 7 - 3) for i in range(12)] + [
        (25, "switch", 1),
        (30, "limit", 4),
        (80, "level", 9),
        (80, "probe", 2),
    ]
    many = [*few, *((200 + i, "switch", i % 2) for i in range(80))]
    short, long = drive(NETLIST, 150, few), drive(NETLIST, 150, many)
    for name in ("lamp", "limit", "last"):
        assert short.trace(name).ticks.tolist() == long.trace(name).ticks.tolist()
        assert short.trace(name).values.tolist() == long.trace(name).values.tolist()
    assert long.at("last", 81) == 2
    for far in (300, 2**70):
        with pytest.raises(AnswerFault, match=f"{far} does not fit"):
            drive(NETLIST, 10, [*many, (1, "limit", far)])
    with pytest.raises(AnswerFault, match="has no 'horn'"):
        drive(NETLIST, 10, [*many, (1, "horn", 1)])


def test_a_judges_next_run_of_a_netlist_begins_from_reset():
    """The engine is kept for the runs of one judge; nothing of one run is seen in the next."""
    rows = [(20, "switch", 1), (30, "limit", 4), (40, "probe", -5)]
    alone = drive(NETLIST, 60)
    with watched() as runs:
        first, other = drive(NETLIST, 60, rows), drive(NETLIST, 60, seed=5)
        again, still = drive(NETLIST, 60, rows), drive(NETLIST, 60)
    assert [run.engine is first.engine for run in runs] == [True, False, True, True] and runs[1] is other
    for one, two in ((first, again), (alone, still)):
        assert one.late == two.late
        for name in ("lamp", "limit", "last"):
            assert one.trace(name).ticks.tolist() == two.trace(name).ticks.tolist()
            assert one.trace(name).values.tolist() == two.trace(name).values.tolist()
    assert first.changes("lamp").tolist() == [32] and not len(still.changes("lamp"))
