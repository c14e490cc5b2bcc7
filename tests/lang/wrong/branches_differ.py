# wanted: one side of if ... else is unsigned(8) and the other unsigned(4): a
# advice: Write unsigned(8)(...) around the second side.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    w = Reg(unsigned(4))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = self.n if self.lamp else self.w  # <-
