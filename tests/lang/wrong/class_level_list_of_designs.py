# wanted: Wrong has no 'n'.
# advice: Declare it as a class attribute, or set it in __init__.
from simkit.lang import *


class Blinker(Design):
    n = Reg(unsigned(8))

    @clocked
    def go(self):
        self.n = self.n + 1


class Wrong(Design):
    blinkers = [Blinker(), Blinker()]
    taps = [Reg(unsigned(8)), Reg(unsigned(8))]

    @clocked
    def go(self):
        self.taps[0].x = self.n  # <-
