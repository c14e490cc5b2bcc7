# wanted: x has no value yet on some way to this line in this turn.
# advice: Assign it on every way that leads here; what must last from turn to
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = x  # <-
        x = self.n
