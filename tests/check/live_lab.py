"""A small lab whose answers are code: a host program with its design, and a function of samples."""

import numpy as np

from simkit import Design, HostReg, HostStream, Interrupt, Reg, bit, clocked, compile_design, unsigned
from simkit.bench import load
from simkit.check import Criterion, Exercise, Lab, Result, answers
from simkit.check.draw import Draw
from simkit.units import ms


class Counter(Design):
    """Counts up to ``limit`` and then asks for attention; shows every step of the count to the host."""

    limit = HostReg(unsigned(16), reset=100)
    count = HostReg(unsigned(16), access="ro")
    log = HostStream(unsigned(16), depth=1024, direction="to_host")
    alarm = Interrupt()
    n = Reg(unsigned(16))
    asked = Reg(bit)

    @clocked
    def go(self):
        self.count = self.n
        if self.n < self.limit:
            self.n = self.n + 1
            self.log.try_put(self.n)
        elif self.asked == 0:
            self.asked = 1
            self.alarm.request()


def judge_program(answer, mine, seed):
    limit = Draw("limit", seed).integer(200, 400)
    rig = load(compile_design(Counter))
    given = answer(rig.host, limit, within=ms(50))
    rig.run(ms(1))
    yield Result("set", rig.peek("limit") == limit)
    yield Result("count", given == rig.peek("count") == limit)


def judge_level(answer, mine, seed):
    noise = np.random.default_rng(seed).normal(size=256)
    yield Result("zeros", abs(answer(np.zeros(16))) < 1e-12)
    yield Result("rms", abs(answer(noise) - np.sqrt(np.mean(noise**2))) < 1e-9)


def judge_both(answer, mine, seed):
    rig = load(answer["design"])
    yield Result("value", answer["program"](rig.host) == 100)


lab = Lab(
    "91_live",
    "Answers that are code",
    [
        Exercise(
            "91-a",
            "Set the limit, wait for the alarm, give the count",
            points=2,
            objective="write a host program",
            kind=answers.Program(takes=("host", "limit")),
            criteria=[Criterion("set", "the limit is set", 1), Criterion("count", "gives the count", 1)],
            judge=judge_program,
        ),
        Exercise(
            "91-b",
            "Level",
            points=2,
            objective="write a function of samples",
            kind=answers.Function(takes=("samples",), result=answers.Number()),
            criteria=[Criterion("zeros", "0 for silence", 1), Criterion("rms", "root mean square", 1)],
            judge=judge_level,
        ),
        Exercise(
            "91-c",
            "A design and its program",
            points=1,
            objective="both",
            kind=answers.Record(design=answers.Design(), program=answers.Program()),
            criteria=[Criterion("value", "reads the count", 1)],
            judge=judge_both,
        ),
    ],
)
