# wanted: this loop would be copied out 1000000 times.
# advice: Put a tick() in the body, so that a register counts.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        for i in range(10**6):  # <-
            self.m = self.m + 1
