# wanted: ** is no operator of hardware: a power is a chain of multipliers.
# advice: Write the multiplications, x * x; for a power of two, unsigned(16)(1)
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.n ** 2  # <-
