# wanted: store has words 0 to 3; there is no word 1.0.
# advice: The last one is 3.
from simkit.lang import *


class Wrong(Design):
    store = Ram(unsigned(8), 4)

    @clocked
    def go(self):
        self.store[1.0] = 1  # <-
