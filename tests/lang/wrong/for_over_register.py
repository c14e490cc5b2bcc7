# wanted: a loop goes over a range or a list known when the design is built, not
# advice: Write for i in range(n), or a list of constants, parts or Regs.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        for i in self.n:  # <-
            self.m = self.m + 1
