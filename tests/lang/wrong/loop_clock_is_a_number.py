# wanted: @clocked: clock is 100000000.
# advice: Give a Clock, for example clock=Clock(100_000_000).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @clocked(clock=100_000_000)  # <-
    def go(self):
        self.n = self.n + 1
