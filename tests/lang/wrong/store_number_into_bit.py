# wanted: lamp is a bit and the value is unsigned(8).
# advice: Write x != 0, a comparison, or x[0] for its lowest bit.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.lamp = self.n  # <-
