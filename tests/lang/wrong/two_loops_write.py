# wanted: n belongs to the loop up (line 11) and down writes it too: two drivers
# advice: Give it one loop; let the other one ask by a register or a queue of its
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @clocked
    def up(self):
        self.n = self.n + 1

    @clocked
    def down(self):
        self.n = self.n - 1  # <-
