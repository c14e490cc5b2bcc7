# wanted: after the colon stands a type, not int.
# advice: Write for example count: unsigned(8) = 0.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x: int = self.n  # <-
        self.n = x
