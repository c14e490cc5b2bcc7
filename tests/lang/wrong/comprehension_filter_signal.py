# wanted: this list would change its length with a signal; hardware cannot grow.
# advice: Keep every element and choose inside it: (x if flag else 0).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x = [i for i in range(4) if self.lamp]  # <-
        self.n = len(x)
