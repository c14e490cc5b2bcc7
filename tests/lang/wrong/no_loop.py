# wanted: Wrong has no loop, so it would do nothing.
# advice: Mark a method @clocked (one tick's logic) or @sequenced (steps that
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    def go(self):
        self.n = self.n + 1
