# wanted: bit + bit: a bit is true or false, not a number.
# advice: Write x and y, x or y, x ^ y; or unsigned(2)(x) + unsigned(2)(y) to
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.lamp + self.lamp  # <-
