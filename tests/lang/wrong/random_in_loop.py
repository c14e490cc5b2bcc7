# wanted: Random.randrange() would run once, while the design is built, not in
# advice: Draw the numbers in __init__ if they may be fixed, or build a shift
from simkit.lang import *


import random


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = random.randrange(4)  # <-
