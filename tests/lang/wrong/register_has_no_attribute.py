# wanted: Reg n has no 'bit'.
# advice: Use it by its name alone: self.n.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        if self.lamp:
            tick()
        self.lamp = self.n.bit  # <-
