# wanted: accel.read() belongs to the loop one (line 13) and two uses it too: a
# advice: Give it one loop; let the other one ask by a register or a queue of its
from simkit.lang import *


class Wrong(Design):
    accel = AnalogIn("fan A bearing")
    n = Reg(signed(24))
    m = Reg(signed(24))

    @sequenced
    def one(self):
        self.n = self.accel.read()

    @sequenced
    def two(self):
        self.m = self.accel.read()  # <-
