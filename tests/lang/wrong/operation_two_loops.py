# wanted: n belongs to the loop one (line 11) and two writes it too: two drivers
# advice: Give it one loop; let the other one ask by a register or a queue of its
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @operation
    def count(self):
        self.n = self.n + 1  # <-

    @clocked
    def one(self):
        self.count()

    @clocked
    def two(self):
        self.count()
