# wanted: resize from signed(8) to unsigned(8) would change what the top bit
# advice: Decide what negative numbers become: resize(unsigned(8)(max(x, 0)),
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = resize(self.s, unsigned(8))  # <-
