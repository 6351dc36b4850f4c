[Version] 2.0
# Hz Z MA
[Number of Ports] 1
20 6 1
