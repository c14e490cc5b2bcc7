# wanted: bits(): too many positional arguments.
# advice: Write bits(x, hi, lo).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = bits(self.n, 3, 0, 1)  # <-
