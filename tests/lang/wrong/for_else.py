# wanted: else after for is not part of the language.
# advice: Note in a local or a register that break happened, and test it with if
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        for i in range(4):
            self.m = self.m + 1
        else:
            self.m = 0  # <-
