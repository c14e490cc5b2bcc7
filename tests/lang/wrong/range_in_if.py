# wanted: 'in' would become 10000000 comparisons.
# advice: Write 0 <= x <= 9999999, two of them.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        if self.n in range(10**7):  # <-
            self.m = 1
