# wanted: // rounds down in Python; a hardware divider cuts towards zero, so the
# advice: Write x / y (cut towards zero), or x >> n to divide by 2**n and round
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.n // 2  # <-
