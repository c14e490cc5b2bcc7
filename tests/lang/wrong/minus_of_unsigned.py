# wanted: -x of unsigned(8): an unsigned type has no negative numbers.
# advice: Write -signed(9)(x) for the negative number, or 0 - x to wrap round.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.s = -self.n  # <-
