# wanted: unsigned(0) has 0 bits; a value has 1 to 4096.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = unsigned(0)(1)  # <-
