[Version] 2.0
# Hz Z MA
[Network Data]
20 6 1
30 6 1
