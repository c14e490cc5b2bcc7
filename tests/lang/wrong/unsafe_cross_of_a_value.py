# wanted: unsafe_cross() takes a register of another clock.
# advice: Write unsafe_cross(self.count).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = unsafe_cross(self.n + 1)  # <-
