# wanted: x is not of one type here: one side of if ... else is unsigned(4) and
# advice: Write unsigned(8)(...) around the first side.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    w = Reg(unsigned(4))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x = self.n
        if self.lamp:
            x = self.w
        self.n = x  # <-
