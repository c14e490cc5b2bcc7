"""Exercises of lab {number} (invented, like all numbers in it).

This file travels to the learners, so it holds no answers: a judge runs a netlist and measures.
"""

from simkit.check import Criterion, Exercise, Hint, Lab, Result, answers, drive


def draw_wait(rng):
    return {{"wait": rng.integer(5, 40)}}


def judge_wait(answer, mine, seed):
    missed = answer == mine.wait
    yield Result("ticks", answer == mine.wait + 1, answer, None, "ticks", "end" if missed else "")


def draw_period(rng):
    return {{"period": rng.integer(20, 90)}}


def judge_blinker(netlist, mine, seed):
    changes = drive(netlist, 4 * mine.period + 8).changes("lamp")
    yield Result("blinks", len(changes) >= 2, len(changes), "2 or more", "changes")
    if len(changes) < 2:
        return
    gap = int(changes[1] - changes[0])
    yield Result("period", gap == mine.period, gap, mine.period, "ticks", "end" if gap == mine.period + 1 else "")


END = Hint(
    "What happens in the tick after the last wait?",
    "The end of a turn costs a tick of its own.",
    "wait(3) alone makes a turn of 4 ticks.",
)
COUNT = Hint(
    "Which lines of the loop cost ticks?",
    "Only waits and the end of the turn do; an assignment costs none.",
    "wait(3) and tick(): 3 + 1 + 1 = 5 ticks a turn.",
)

lab = Lab(
    "{name}",
    "{title}",
    [
        Exercise(
            "{number}-a",
            "Predict a period",
            points=1,
            objective="predict the period of a loop",
            kind=answers.Number(unit="ticks", whole=True),
            parameters=draw_wait,
            judge=judge_wait,
            answer="ticks",
            criteria=[Criterion("ticks", "the number of ticks is right", points=1, hint="count")],
            hints={{"end": END, "count": COUNT}},
        ),
        Exercise(
            "{number}-b",
            "Build a loop with a period",
            points=3,
            objective="build a loop with a period in ticks",
            kind=answers.Design(ports=[answers.Port("digital_out", terminal="lamp", type="bit")]),
            parameters=draw_period,
            judge=judge_blinker,
            answer="Blinker",
            criteria=[
                Criterion("blinks", "the lamp changes", points=1, hint="still"),
                Criterion("period", "the changes are the right number of ticks apart", points=2, hint="count"),
            ],
            hints={{
                "still": Hint(
                    "Does anything write the lamp?",
                    "A register keeps its value until it is written.",
                    "self.on = not self.on turns a bit over.",
                ),
                "end": END,
                "count": COUNT,
            }},
        ),
    ],
)
