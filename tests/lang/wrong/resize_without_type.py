# wanted: a type is needed here, not 8.
# advice: Write for example signed(16) or sfixed(3, -12).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = resize(self.n, 8)  # <-
