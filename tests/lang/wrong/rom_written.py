# wanted: table is a Rom: its words never change.
# advice: Use a Ram to write words.
from simkit.lang import *


class Wrong(Design):
    table = Rom(unsigned(8), [1, 2, 3])

    @clocked
    def go(self):
        self.table[0] = 1  # <-
