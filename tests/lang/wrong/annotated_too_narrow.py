# wanted: x is unsigned(4) and the value is unsigned(8): numbers outside 0 to 15
# advice: Write resize(x, unsigned(4)), which drops the top bits, or resize(x,
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x: unsigned(4) = self.n  # <-
        self.n = x + 1
