# wanted: range() failed while the design was being built: TypeError: 'float'
from simkit.lang import *


class Wrong(Design):
    k = 2.5

    @clocked
    def go(self):
        for i in range(self.k):  # <-
            pass
