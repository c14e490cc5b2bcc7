# wanted: how often a for loop goes round is known when the design is built;
# advice: Write while i < n: with a tick inside, or range(most) and an if in the
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        for i in range(self.n):  # <-
            self.m = self.m + 1
