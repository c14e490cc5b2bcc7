# wanted: the period of go could not be worked out: AttributeError: 'Wrong'
# advice: It is asked with the design.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @sequenced(every=lambda design: design.period)  # <-
    def go(self):
        self.n = self.n + 1
