[Version] 2.0
# Hz Z MA
[Number of Ports] 2
