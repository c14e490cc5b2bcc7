# wanted: the property double failed while the design was being built: TypeError:
# advice: If it is meant to be hardware, mark it @operation.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @property
    def double(self):
        return self.n * 2

    @clocked
    def go(self):
        self.n = self.double  # <-
