# wanted: cat: 0 is a plain number and has no width.
# advice: Give it a type, for example unsigned(1)(0).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = cat(self.n, 0)  # <-
