# wanted: Wrong.clock is 100000000, which is a number and no clock.
# advice: Write clock = Clock(100_000_000).
from simkit.lang import *


class Wrong(Design):
    clock = 100_000_000
    n = Reg(unsigned(8))

    @clocked
    def go(self):
        self.n = self.n + 1
