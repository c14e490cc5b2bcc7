# wanted: clocked: got an unexpected keyword argument 'every'.
# advice: It takes function, clock.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @clocked(every=3)  # <-
    def go(self):
        self.n = self.n + 1
