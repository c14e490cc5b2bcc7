# wanted: Rom: there are no words in it.
# advice: Give at least one value.
from simkit.lang import *


class Wrong(Design):
    table = Rom(unsigned(8), [])  # <-
    n = Reg(unsigned(8))

    @sequenced
    def go(self):
        v = self.table.read(0)
        self.n = v
