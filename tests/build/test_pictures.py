"""Pictures: the schedule of a loop against a run, the circuit, the placement."""

from __future__ import annotations

import pytest

from simkit import compile_design
from simkit.build.pictures import circuit, circuit_graph, tiles
from simkit.build.turn import steps_of, turn_figure
from tests.build.corpus import CORPUS
from tests.lang.running import Run


def test_the_schedule_is_what_a_run_does():
    """The receiver with a line that is 0 all the time: every state is entered in the tick that the schedule says."""
    net = compile_design(CORPUS["receiver"]())
    steps = {step.name: step for step in steps_of(net, "run")}
    run = Run(net, 1000)
    names = next(reg.states for reg in net.regs if reg.name == "run.state")
    entered = {names[value]: tick for tick, value in run.seen("run.state")[:4]}
    assert entered == {name: steps[name].tick for name in entered} and len(entered) == 4
    assert [step.ticks for step in steps.values() if step.waits] == [1, 520, 347]


def test_lines_that_act_in_a_state():
    steps = {step.name: step for step in steps_of(compile_design(CORPUS["long"]()), "run")}
    first = min(line for step in steps.values() for line in step.lines)
    assert steps["start"].lines == (first,)
    after = next(step for name, step in steps.items() if name == f"after line {first + 1}")
    assert after.lines == (first + 2,) and after.tick == 1


def test_the_schedule_drawn():
    picture = turn_figure(compile_design(CORPUS["sender"]()), "run")
    first = next(step.name for step in steps_of(compile_design(CORPUS["sender"]()), "run") if step.waits)
    assert f"{first} from tick 1 for 347" in picture.alt


@pytest.mark.parametrize(
    "name, loop, words",
    [("sender", "walk", "there is no loop 'walk'; loops: run"), ("pwm", "run", "does everything in one tick")],
)
def test_what_has_no_schedule(name, loop, words):
    with pytest.raises(ValueError, match=words):
        steps_of(compile_design(CORPUS[name]()), loop)


def test_a_circuit_has_every_register_twice_and_all_operators():
    net = compile_design(CORPUS["pwm"]())
    graph = circuit_graph(net)
    kinds = [data["kind"] for _, data in graph.nodes(data=True)]
    assert kinds.count("register") == 2 * len(net.regs) and kinds.count("input") == len(net.inputs)
    labels = sorted(data["label"] for _, data in graph.nodes(data=True) if data["kind"] == "operator")
    assert labels.count("<") == 1 and labels.count("+") == 1 and labels.count("≤") == 1
    assert "4 registers" in circuit(net).alt


def test_a_large_circuit_is_not_drawn():
    with pytest.raises(ValueError, match="a drawing of more than 60 cannot be read"):
        circuit(compile_design(CORPUS["monitor"]()))


def test_tiles_are_read_from_the_tools_text():
    text = """
.tile R3C7:PLC2
word: SLICEA.K0.INIT 0110000000000000
word: SLICEA.K1.INIT 0000000000000000
enum: SLICEA.REG0.SD 1
enum: SLICEA.REG0.REGSET RESET

.tile MIB_R25C10:MIB_EBR0
enum: EBR0.MODE DP16KD
"""
    found = tiles(text)
    assert found["tables"] == {(7, 3): 1} and found["flip-flops"] == {(7, 3): 1}
    assert found["block RAM"] == {(10, 25): 1} and found["multipliers"] == {}
