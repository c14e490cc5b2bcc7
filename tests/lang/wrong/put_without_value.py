# wanted: queue.try_put takes 1 value, not 0.
from simkit.lang import *


class Wrong(Design):
    queue = Fifo(unsigned(8), 4)

    @clocked
    def go(self):
        self.queue.try_put()  # <-
