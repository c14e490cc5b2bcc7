# wanted: @sequenced stands before a method (def …), not before Duration.
# advice: Write @sequenced(every=us(20)) for a period.
from simkit.lang import *
from simkit.units import us


class Wrong(Design):
    n = Reg(unsigned(8))

    @sequenced(us(20))  # <-
    def go(self):
        self.n = self.n + 1
