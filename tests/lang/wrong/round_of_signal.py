# wanted: round() works on numbers known when the design is built; this is a
# advice: Use resize(x, type) to change the type of a signal, or compare it to
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = round(self.n)  # <-
