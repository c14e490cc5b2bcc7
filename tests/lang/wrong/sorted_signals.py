# wanted: sorted() is a library function and cannot work on a signal.
# advice: Build it from operators, abs(), min(), max() and if; or look its values
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x = sorted([self.n, self.m])  # <-
        self.n = x[0]
