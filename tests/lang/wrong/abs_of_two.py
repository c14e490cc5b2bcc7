# wanted: abs(): too many positional arguments.
# advice: Write abs(x).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = abs(self.s, self.n)  # <-
