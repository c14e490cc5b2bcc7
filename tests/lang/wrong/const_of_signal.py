# wanted: const() takes a number known when the design is built.
# advice: Use resize(x, type) for a signal.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = const(self.n, unsigned(8))  # <-
