# wanted: 'is' compares Python objects; signals are compared by value.
# advice: Write == or !=.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.lamp = self.n is self.m  # <-
