# wanted: * is not part of the language here.
# advice: Write the names out.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        a, *b = self.n, self.m, self.s  # <-
        self.n = a
