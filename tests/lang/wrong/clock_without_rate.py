# wanted: Clock: '100 MHz' is not a rate.
# advice: Give it in hertz, from 1 to 10**12.
from simkit.lang import *


class Wrong(Design):
    fast = Clock("100 MHz")  # <-
    n = Reg(unsigned(8))

    @clocked(clock=fast)
    def go(self):
        self.n = self.n + 1
