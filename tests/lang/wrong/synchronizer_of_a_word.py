# wanted: a Synchronizer carries one bit, not unsigned(8): the bits of a wider
# advice: Use Handshake (one value at a time) or Fifo (many).
from simkit.lang import *


class Wrong(Design):
    over = Synchronizer(unsigned(8))  # <-

    @clocked
    def go(self):
        self.over = 1
