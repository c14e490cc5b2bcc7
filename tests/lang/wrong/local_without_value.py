# wanted: x has no value yet on some way to this line in this turn.
# advice: Give it a value on every way, for example before the if.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        if self.lamp:
            x = self.n
        self.n = x  # <-
