[Version] 2.0
# Hz Z MA
[Number of Ports] 1
[Reference] fifty
