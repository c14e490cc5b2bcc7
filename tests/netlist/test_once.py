"""What is worked out once for each netlist: kept with it, gone with it, and never taken for another's."""

from __future__ import annotations

import dataclasses
import gc

import pytest

from simkit import Design, DigitalOut, Reg, clocked, compile_design, unsigned
from simkit.netlist import BadNetlist
from simkit.netlist.once import Once, checked, exposed


class Blink(Design):
    lamp, count = DigitalOut("lamp"), Reg(unsigned(4))

    @clocked
    def run(self):
        self.count = self.count + 1
        self.lamp = self.count == 0


def test_the_work_is_done_once_for_each_netlist():
    asked = []
    work = Once(lambda netlist: asked.append(netlist.name) or len(asked))
    first, second = compile_design(Blink), dataclasses.replace(compile_design(Blink))
    assert [work(first), work(second), work(first), work(second)] == [1, 2, 1, 2]


def test_it_is_forgotten_with_the_netlist():
    """Else the next netlist at the same place in memory could be taken for it."""
    work = Once(lambda netlist: object())
    netlist = dataclasses.replace(compile_design(Blink))
    work(netlist)
    assert len(work._known) == 1
    del netlist
    gc.collect()
    assert not work._known


def test_a_netlist_that_breaks_a_rule_is_refused_every_time():
    good = compile_design(Blink)
    bad = dataclasses.replace(good, outputs=[dataclasses.replace(good.outputs[0], node=len(good.nodes))])
    assert checked(good) is good
    for _ in range(2):
        with pytest.raises(BadNetlist):
            checked(bad)


def test_a_design_whose_registers_can_be_looked_at_is_the_same_object_each_time():
    netlist = compile_design(Blink)
    assert exposed(netlist) is exposed(netlist)
