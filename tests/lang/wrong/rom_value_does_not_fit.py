# wanted: table: 300 does not fit unsigned(8), which holds 0 to 255.
# advice: Take a type that reaches further, such as unsigned(9).
from simkit.lang import *


class Wrong(Design):
    table = Rom(unsigned(8), [0, 100, 300])  # <-
    n = Reg(unsigned(8))

    @sequenced
    def go(self):
        v = self.table.read(self.n[1])
        self.n = v
