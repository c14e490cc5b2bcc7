"""Exercises of the small lab that the tests use (invented, like all numbers in it)."""

from simkit.check import AnswerFault, Criterion, Exercise, Hint, Lab, Result, answers
from simkit.engines.api import EngineFault, Recording
from simkit.engines.reference import ReferenceEngine

TICK_US = 0.025


def draw(rng):
    return {"ticks": rng.integer(20, 60)}


def judge_period(answer, mine, seed):
    wanted = mine.ticks * TICK_US
    hint = "nanoseconds" if abs(answer - 1000 * wanted) < 1 else ""
    yield Result("period", abs(answer - wanted) < 0.001, answer, None, "us", hint)


def judge_choice(answer, mine, seed):
    yield Result("choice", answer["choice"] == "B", answer["choice"], None)
    yield Result("ticks", answer["ticks"] == mine.ticks, answer["ticks"], None, "ticks")


def judge_blinker(netlist, mine, seed):
    """Run the design and measure the distance of the lamp's changes."""
    lamp = next(e for e in netlist.endpoints if e.terminal == "lamp").ports["value"]
    engine = ReferenceEngine(netlist)
    recording = Recording([lamp])
    try:
        engine.record(recording)
        engine.run(4 * mine.ticks + 8)
    except EngineFault as error:
        raise AnswerFault(f"the design does not run: {error}") from error
    changes = recording.trace(lamp).ticks[1:]
    yield Result("blinks", len(changes) >= 2, len(changes), "2 or more", "changes")
    if len(changes) < 2:
        return
    gap = int(changes[1] - changes[0])
    off_by_one = abs(gap - mine.ticks) == 1
    yield Result("period", gap == mine.ticks, gap, mine.ticks, "ticks", "one_tick" if off_by_one else "")


lab = Lab(
    "90_ticks",
    "Counting ticks",
    [
        Exercise(
            "90-a",
            "Predict a period",
            points=2,
            objective="predict how long a loop takes",
            kind=answers.Number(unit="us"),
            parameters=draw,
            judge=judge_period,
            answer="period",
            criteria=[Criterion("period", "the period is right", points=2, hint="tick")],
            hints={
                "tick": Hint(
                    "How long is one tick of a 40 MHz clock?",
                    "The period is the number of ticks times 25 ns.",
                    "A loop of 4 ticks: 4 x 25 ns = 100 ns = 0.1 us.",
                ),
                "nanoseconds": Hint(
                    "Which unit is asked for?",
                    "The number fits in nanoseconds; the task asks for us.",
                    "100 ns are 0.1 us.",
                ),
            },
        ),
        Exercise(
            "90-b",
            "Choose a loop",
            points=2,
            objective="choose between two loops",
            kind=answers.Record(choice=answers.Text(("A", "B")), ticks=answers.Number(whole=True)),
            parameters=draw,
            judge=judge_choice,
            answer="choice",
            criteria=[
                Criterion("choice", "the better loop is chosen", points=1, hint="choice"),
                Criterion("ticks", "its length is right", points=1, hint="choice"),
            ],
            hints={"choice": Hint("Which loop ends earlier?", "Count the ticks of each.", "tick() costs 1.")},
        ),
        Exercise(
            "90-c",
            "Build a blinker",
            points=3,
            objective="build a loop with a period in ticks",
            kind=answers.Design(ports=[answers.Port("digital_out", terminal="lamp", type="bit")]),
            parameters=draw,
            judge=judge_blinker,
            answer="Blinker",
            criteria=[
                Criterion("blinks", "the lamp changes", points=1, hint="still"),
                Criterion("period", "the changes are the right number of ticks apart", points=2, hint="gap"),
            ],
            hints={
                "still": Hint(
                    "Does anything write the lamp?",
                    "A register keeps its value until it is written.",
                    "self.on = not self.on turns a bit over.",
                ),
                "gap": Hint(
                    "How many ticks does one turn take?",
                    "wait(n) costs n ticks, the end of a turn one.",
                    "wait(3) and tick(): 5 ticks a turn.",
                ),
                "one_tick": Hint(
                    "Does the turn itself cost a tick?",
                    "The next turn starts in the tick after the last one: a turn is its waits and one tick more.",
                    "wait(3) alone makes a turn of 4 ticks.",
                ),
            },
        ),
    ],
)
