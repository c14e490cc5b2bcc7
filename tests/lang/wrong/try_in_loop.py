# wanted: hardware raises no exceptions.
# advice: Test the condition with if.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        try:  # <-
            self.n = self.n + 1
        except ValueError:
            pass
