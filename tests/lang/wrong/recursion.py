# wanted: twice calls itself: hardware cannot copy itself into itself.
# advice: Write a loop with a tick inside. Called: twice() in line 15.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @operation
    def twice(self, x):
        return self.twice(x) + 1  # <-

    @clocked
    def go(self):
        self.n = self.twice(self.n)
