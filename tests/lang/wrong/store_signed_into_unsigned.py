# wanted: n is unsigned(8) and the value is signed(8): the top bit of only one of
# advice: Write unsigned(8)(x) (the bits are kept, the number may change).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.s  # <-
