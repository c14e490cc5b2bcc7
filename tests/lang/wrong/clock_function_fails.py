# wanted: the clock of go could not be worked out: AttributeError: 'Wrong' object
# advice: It is asked with the design.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @clocked(clock=lambda design: design.fast)  # <-
    def go(self):
        self.n = self.n + 1
