# wanted: a loop returns nothing: nobody called it.
# advice: Assign to a register or an output.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        return self.n  # <-
