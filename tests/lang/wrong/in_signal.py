# wanted: 'in' needs a list, tuple or range known when the design is built.
# advice: Write x == a or x == b.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.lamp = 3 in self.n  # <-
