[Version] 2.0
# Hz Z MA
[Number of Doors] 1
