# wanted: a while loop needs many ticks, and a clocked loop has just one.
# advice: Use if here, or a sequenced loop with tick() inside the while.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        while self.n < 10:  # <-
            self.n = self.n + 1
