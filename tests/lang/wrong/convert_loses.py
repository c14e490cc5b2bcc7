# wanted: unsigned(4)(x) keeps the number, and numbers outside 0 to 15 would be
# advice: Write resize(x, unsigned(4)), which drops the top bits, or resize(x,
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = unsigned(4)(self.n)  # <-
