# wanted: x lives across a tick but is a plain number on one of the ways here, so
# advice: Give it a type where it starts: x: unsigned(8) = 0.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        x = 0
        while self.n < 10:
            tick()
            x = x + 1  # <-
        self.m = x
