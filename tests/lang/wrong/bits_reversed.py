# wanted: bits(0, 3) is empty: the higher position comes first.
# advice: Write bits(x, 3, 0).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = bits(self.n, 0, 3)  # <-
