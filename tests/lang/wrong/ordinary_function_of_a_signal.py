# wanted: double() is ordinary Python and cannot work on a signal.
# advice: Mark it @combinational (logic) or, as a method, @operation, so that the
from simkit.lang import *


def double(x):
    return x * 2


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = double(self.n)  # <-
