# wanted: hardware raises no exceptions.
# advice: Set a bit that others can see.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        raise ValueError  # <-
