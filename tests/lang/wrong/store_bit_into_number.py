# wanted: n is unsigned(8) and the value is a bit.
# advice: Write unsigned(8)(x), or 1 if x else 0.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.n > 3  # <-
