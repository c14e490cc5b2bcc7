# wanted: HostReg limit has no 'unit'.
# advice: Use it by its name alone: self.limit.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    limit = HostReg(unsigned(8))

    @clocked
    def go(self):
        self.n = self.limit.unit  # <-
