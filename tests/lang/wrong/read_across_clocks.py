# wanted: n belongs to the clock 'fast' and look runs on 'fabric': the value may
# advice: Carry it across with a Synchronizer (one bit), a Handshake (one value
from simkit.lang import *


class Wrong(Design):
    fast = Clock(100_000_000)
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))

    @clocked(clock=fast)
    def count(self):
        self.n = self.n + 1

    @clocked
    def look(self):
        self.m = self.n  # <-
