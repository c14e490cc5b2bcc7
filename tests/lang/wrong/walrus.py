# wanted: := is not part of the language.
# advice: Give the value a name on a line of its own.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        if (x := self.n) > 3:  # <-
            self.m = x
