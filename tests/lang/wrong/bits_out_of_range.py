# wanted: bits: unsigned(8) has bits 7 down to 0, not 8.
# advice: Bit i weighs 2**i; the lowest here is 0.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = bits(self.n, 8, 1)  # <-
