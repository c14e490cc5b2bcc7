"""What learners of lab {number} are likely to hand in, and how the check must take it.

Each ``code`` runs just before the check cell, after the whole solution up to there, and defines the answer anew.
"""

from simkit.check.wrong import WrongAnswer

BLINKER = '''
class Blinker(Design):
    lamp = DigitalOut("lamp")

    @sequenced
    def blink(self):
        {{turn}}
        wait(mine_b.period{{less}})
'''

wrong_answers = [
    WrongAnswer("{number}-a", "the end of the turn forgotten", "ticks = mine_a.wait", fails="ticks", hint="end"),
    WrongAnswer("{number}-a", "one too many", "ticks = mine_a.wait + 2", fails="ticks", hint="count"),
    WrongAnswer(
        "{number}-b",
        "the end of the turn forgotten",
        BLINKER.format(turn="self.lamp = not self.lamp", less=""),
        fails="period",
        hint="end",
        alone=True,
    ),
    WrongAnswer(
        "{number}-b",
        "never changed",
        BLINKER.format(turn="self.lamp = 0", less=" - 1"),
        fails="blinks",
        hint="still",
    ),
    WrongAnswer(
        "{number}-b",
        "two ticks short",
        BLINKER.format(turn="self.lamp = not self.lamp", less=" - 3"),
        fails="period",
        hint="count",
        alone=True,
    ),
]
