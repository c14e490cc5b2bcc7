"""Answers that are code, judged in the learner's own process: what crosses, what is refused."""

from __future__ import annotations

import json
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simkit.bench import load
from simkit.check import AnswerFault, collect, judge
from simkit.check.live import BadValue, Gone, LiveAnswer, LocalCaller, pack, unpack
from simkit.check.live.host import OutOfTime
from simkit.check.programs import Program
from simkit.host import HostFault, HostTimeout, UnknownName
from simkit.units import Duration, ms

from .live_lab import Counter, lab


def verdict(exercise, thing):
    return judge(lab[exercise], collect(lab[exercise], thing), "ada", 7)


def passed(exercise, thing):
    return {line.name for line in verdict(exercise, thing).lines if line.passed}


def right(host, limit):
    host.limit = limit
    host.alarm.wait(timeout=ms(20))
    host.alarm.acknowledge()
    return host.count


def test_a_right_program_and_function_get_full_marks():
    assert passed("91-a", right) == {"set", "count"}
    assert passed("91-b", lambda samples: np.sqrt(np.mean(samples**2))) == {"zeros", "rms"}


def test_a_design_and_its_program_in_one_answer():
    assert verdict("91-c", {"design": Counter, "program": lambda host: (host.wait(ms(1)), host.count)[1]}).passed
    assert verdict("91-c", {"design": Counter, "program": None}).status == "todo"


def test_half_right_keeps_its_half():
    assert passed("91-a", lambda host, limit: setattr(host, "limit", limit)) == {"set"}


def test_what_a_program_raises_is_told_with_its_line_and_costs_only_the_rest():
    def late(samples):
        if samples.any():
            raise ValueError("too loud")
        return 0.0

    found = verdict("91-b", late)
    assert {line.name for line in found.lines if line.passed} == {"zeros"}
    assert "too loud" in found.message and "ValueError" in found.message


def test_private_stimuli_are_not_told_by_what_a_program_raises():
    def spy(samples):
        raise ValueError(str(list(samples)))

    said = judge(lab["91-b"], collect(lab["91-b"], spy), "ada", 7, tell=False).message
    assert said == "your function raised ValueError"

    def own(samples):
        raise type(f"Secret{samples[0]}", (Exception,), {})

    said = judge(lab["91-b"], collect(lab["91-b"], own), "ada", 7, tell=False).message
    assert said == "your function raised an exception of its own"


def test_simulated_time_has_an_end():
    def sleeper(host, limit):
        host.wait(ms(10_000))

    assert "used up its time" in verdict("91-a", sleeper).message

    def stubborn(host, limit):
        while True:
            try:
                host.wait(ms(1))
            except OutOfTime:
                pass

    assert "did not stop" in verdict("91-a", stubborn).message


def test_placeholders_and_wrong_kinds():
    def empty(host, limit):
        """Not written yet."""

    assert verdict("91-a", None).status == "todo"
    assert verdict("91-a", empty).status == "todo"
    assert "a program (a function of host, limit) is wanted" in verdict("91-a", 5).message
    assert "arguments do not fit" in verdict("91-a", lambda host: 1).message
    assert (
        "gave something else" in verdict("91-b", lambda samples: "loud").message
        or "wanted" in verdict("91-b", lambda samples: "loud").message
    )


def far(program, *arguments, **limits):
    """Run a program on a counter's host, as a judge would."""
    kind = Program(takes=("host", *("abc"[: len(arguments)])))
    live = LiveAnswer(kind, LocalCaller(kind.functions(program)), "", True)
    return live(load(Counter).host, *arguments, **limits)


def test_the_far_host_does_what_the_host_does():
    """The same program on the host itself and over the line."""

    def program(host):
        host.limit = 30
        host.wait(ms(2))
        words = host.log.read(10)
        host["limit"] = 31
        return [
            host.count,
            host["limit"],
            list(words),
            host.log.overflow,
            host.now,
            host.alarm.pending,
            sorted(dir(host)),
        ]

    near = load(Counter).host
    wanted = program(near)
    wanted[-1].remove("link")  # the link is not the learner's to cut
    assert far(program) == wanted


def test_faults_cross_with_their_class():
    def asks(host):
        found = []
        for act in (
            lambda: host.nothing,
            lambda: setattr(host, "count", 1),
            lambda: setattr(host, "limit", 1 << 20),
            lambda: host.log.read(2000, timeout=ms(1)),
            lambda: host.log.read(-1),
            lambda: host.wait(5),
            lambda: setattr(host, "limit", "much"),
        ):
            try:
                act()
            except HostFault as fault:
                found.append(type(fault).__name__)
        return found

    names = [UnknownName, HostFault, HostFault, HostTimeout, HostFault, HostFault, HostFault]
    assert far(asks) == [kind.__name__ for kind in names]


def test_too_many_questions_end_the_program():
    with pytest.raises(AnswerFault, match="too often"):
        far(lambda host: [host.count for _ in range(1000)], accesses=50)


class Counting(LocalCaller):
    """Counts the questions of a call."""

    asked = 0

    def call(self, message, serve):
        def counted(question):
            self.asked += 1
            return serve(question)

        return super().call(message, counted)


def test_the_clock_is_right_and_costs_no_question():
    """Each answer says what time it is, a fault too; with a second host in the call the program asks."""
    seen = []

    def program(host, *others):
        for other in others:
            other.wait(ms(3))
        reads = lambda: host.log.read(5000, timeout=ms(0.7))  # noqa: E731
        for do in (lambda: None, lambda: host.wait(ms(1.25)), lambda: host.limit, reads):
            try:
                do()
            except HostTimeout:
                seen.append("late")
            seen.append(host.now)

    told = []
    for others in (0, 1):
        rig = load(Counter, host="real-time").run(ms(0.5))
        kind = Program(takes=("host", "other")[: 1 + others])
        caller = Counting(kind.functions(program))
        LiveAnswer(kind, caller, "", True)(*[rig.host] * (1 + others))
        told.append(caller.asked)
        assert seen[-1] == rig.now and "late" in seen
        over_the_line, seen[:] = list(seen), []
        rig = load(Counter, host="real-time").run(ms(0.5))
        program(*[rig.host] * (1 + others))
        assert seen == over_the_line
        seen.clear()
    assert told == [3, 1 + 3 + 4]


def test_a_program_that_only_looks_at_the_clock_is_ended():
    def program(host):
        while host.now < ms(5):
            pass

    with pytest.raises(AnswerFault, match="used up its time, or asked the host too often"):
        far(program, accesses=100)


def test_the_real_runner_is_back_after_a_call():
    rig = load(Counter)
    kind = Program()
    live = LiveAnswer(kind, LocalCaller(kind.functions(lambda host: host.wait(ms(1)))), "", True)
    live(rig.host, within=ms(2))
    rig.run(ms(5))
    assert rig.now == ms(6)


plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text() | st.binary(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner) | st.tuples(inner, inner),
    max_leaves=20,
)


@settings(max_examples=150, deadline=None)
@given(plain)
def test_values_come_back_as_they_were(value):
    assert unpack(json.loads(json.dumps(pack(value)))) == value


@pytest.mark.parametrize(
    "array", [np.arange(6).reshape(2, 3), np.array([1.5, np.nan]), np.zeros((0, 4), np.uint8), np.array([1j])]
)
def test_arrays_come_back_as_they_were(array):
    back = unpack(json.loads(json.dumps(pack(array))))
    assert back.dtype == array.dtype and back.shape == array.shape and np.array_equal(back, array, equal_nan=True)


def test_durations_cross_exactly():
    third = Duration(Fraction(10**6, 3))
    assert unpack(json.loads(json.dumps(pack(third)))) == third


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["$", "of", "dtype", "shape", "bytes"]), inner, max_size=4)
        | st.fixed_dictionaries(
            {"$": st.sampled_from(["array", "tuple", "dict", "bytes", "complex", "duration", "host"]), "of": inner}
        )
    ),
    max_leaves=12,
)


@settings(max_examples=300, deadline=None)
@given(json_values)
def test_whatever_comes_over_the_line_is_a_value_or_refused(data):
    try:
        unpack(data)
    except BadValue:
        pass


class Liar:
    """A caller that replies as it likes."""

    def __init__(self, reply, questions=()):
        self.reply, self.questions = reply, questions

    def call(self, message, serve):
        for question in self.questions:
            serve(question)
        if isinstance(self.reply, Exception):
            raise self.reply
        return self.reply


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(st.sampled_from(["returned", "raised", "ask"]), json_values, max_size=2))
def test_a_lying_reply_is_a_value_or_a_fault(reply):
    live = LiveAnswer(Program(), Liar(reply), "", False)
    try:
        live()
    except AnswerFault:
        pass


@settings(max_examples=200, deadline=None)
@given(
    st.fixed_dictionaries(
        {
            "host": st.integers(-1, 1) | json_values,
            "item": st.sampled_from(["", "limit", "log", "alarm", "count", "__class__"]) | json_values,
            "do": st.sampled_from(["get", "set", "read", "write", "wait", "show", "acknowledge", "now"]) | json_values,
            "args": st.lists(json_values, max_size=3) | json_values,
        }
    )
    | json_values
)
def test_a_lying_question_is_answered_or_ends_the_call(question):
    live = LiveAnswer(Program(), Liar({"returned": None}, [{"ask": question}]), "", False)
    try:
        live(SHARED.host, within=ms(1))
    except AnswerFault:
        pass


SHARED = load(Counter)


def test_whoever_is_gone_stays_gone():
    live = LiveAnswer(Program(), Liar(Gone("took longer than 10 s and was stopped")), "", False)
    for _ in (0, 1):
        with pytest.raises(AnswerFault, match="your program took longer than 10 s"):
            live()
