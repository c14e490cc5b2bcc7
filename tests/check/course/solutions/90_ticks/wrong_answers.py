"""Likely wrong answers, and the criterion and hint that must catch each.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import WrongAnswer

wrong_answers = [
    WrongAnswer("90-a", "in nanoseconds", "period = mine.ticks * 25", fails="period", hint="nanoseconds"),
    WrongAnswer("90-a", "one tick forgotten", "period = (mine.ticks - 1) * 0.025", fails="period", hint="tick"),
    WrongAnswer(
        "90-b",
        "the slower loop",
        'choice = {"choice": "A", "ticks": parameters("90-b").ticks}',
        fails="choice",
        hint="choice",
    ),
    WrongAnswer(
        "90-c",
        "one tick too slow",
        """
class Blinker(Design):
    lamp = DigitalOut("lamp")
    on = Reg(bit)

    @sequenced
    def blink(self):
        self.on = not self.on
        self.lamp = self.on
        wait(ticks)
""",
        fails="period",
        hint="one_tick",
    ),
    WrongAnswer(
        "90-c",
        "never written",
        """
class Blinker(Design):
    lamp = DigitalOut("lamp")
    on = Reg(bit)

    @sequenced
    def blink(self):
        self.on = not self.on
        wait(ticks - 1)
""",
        fails="blinks",
        hint="still",
    ),
]
