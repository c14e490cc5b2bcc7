# wanted: store has words 0 to 15; there is no word 16.
# advice: The last one is 15.
from simkit.lang import *


class Wrong(Design):
    store = Ram(unsigned(8), 16)

    @clocked
    def go(self):
        self.store[16] = 1  # <-
