# wanted: else after while is not part of the language.
# advice: Note in a local or a register that break happened, and test it with if
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        while self.n > 0:
            tick()
        else:
            self.m = 0  # <-
