# wanted: Wrong.more() is ordinary Python and cannot work on a signal.
# advice: Mark it @combinational (logic) or, as a method, @operation, so that the
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    def more(self, x):
        return x + 1

    @clocked
    def go(self):
        self.n = self.more(self.n)  # <-
